//! A file that is imported, read where that keeps nobody waiting.

use std::io::{Read, Seek};
use std::sync::Arc;

use tokio::sync::mpsc;
use tokio::task::{JoinHandle, spawn_blocking};

use super::AppError;
use crate::ingest::Fault;

/// Rows put into the database at once; bounds the memory of a large import.
const CHUNK: usize = 5000;

/// A file that can be read more than once.
pub trait ReadSeek: Read + Seek + Send {}
impl<T: Read + Seek + Send> ReadSeek for T {}

/// Does `work` on a file and gives the file back.
pub(super) async fn with_file<F, T>(
    mut file: Box<dyn ReadSeek>,
    form: &Arc<F>,
    work: impl FnOnce(&F, &mut Box<dyn ReadSeek>) -> T + Send + 'static,
) -> Result<(T, Box<dyn ReadSeek>), AppError>
where
    F: Send + Sync + 'static,
    T: Send + 'static,
{
    let form = form.clone();
    spawn_blocking(move || (work(&form, &mut file), file)).await.map_err(|_| cut_off())
}

fn cut_off() -> AppError {
    AppError::Internal("an import was cut off".to_owned())
}

/// The rows of a file in chunks, read a chunk ahead of whoever stores them.
pub(super) struct Chunks<T> {
    chunks: mpsc::Receiver<Vec<T>>,
    reading: JoinHandle<Result<(), Fault>>,
}

impl<T: Send + 'static> Chunks<T> {
    /// `give` gives the rows of the file one by one until it is told no.
    pub(super) fn of<F: Send + Sync + 'static>(
        mut file: Box<dyn ReadSeek>,
        form: &Arc<F>,
        give: impl FnOnce(&F, &mut Box<dyn ReadSeek>, &mut dyn FnMut(T) -> bool) -> Result<(), Fault> + Send + 'static,
    ) -> Self {
        let form = form.clone();
        let (sender, chunks) = mpsc::channel(1);
        let reading = spawn_blocking(move || {
            let mut chunk = Vec::with_capacity(CHUNK);
            let given = give(&form, &mut file, &mut |row| {
                chunk.push(row);
                // Nobody takes the chunk when storing failed; then there is no use in reading on.
                chunk.len() < CHUNK || sender.blocking_send(std::mem::take(&mut chunk)).is_ok()
            });
            if given.is_ok() && !chunk.is_empty() {
                drop(sender.blocking_send(chunk));
            }
            given
        });
        Self { chunks, reading }
    }

    /// The next chunk; `None` at the end, which [`Chunks::end`] tells about.
    pub(super) async fn next(&mut self) -> Option<Vec<T>> {
        self.chunks.recv().await
    }

    /// Whether the file was given to its end. If not, what was given must not be kept.
    pub(super) async fn end(self) -> Result<Result<(), Fault>, AppError> {
        self.reading.await.map_err(|_| cut_off())
    }
}
