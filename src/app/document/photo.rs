//! What is said of a photo that was kept. The photo itself is shown to keepers at their desk alone.

use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

/// A photo that was kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct PhotoDocument {
    /// Id of its report.
    pub report: Uuid,
    /// Width as kept, pixels.
    #[schema(example = 1600)]
    pub width_px: u32,
    /// Height as kept, pixels.
    #[schema(example = 1200)]
    pub height_px: u32,
}
