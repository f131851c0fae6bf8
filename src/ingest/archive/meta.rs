//! `meta.xml`: which files an archive has, how they are written, and what each column means (Darwin Core text guide).

use quick_xml::events::{BytesStart, Event};
use quick_xml::{Reader, XmlVersion};

use super::terms;
use super::unpack::fault;
use crate::ingest::faults::{Fault, FaultKind};

/// Its name in the archive.
pub const NAME: &str = "meta.xml";
/// Most bytes of it.
pub(super) const MAX_BYTES: u64 = 256 * 1024;
/// Most columns of a file.
const MAX_FIELDS: usize = 512;

/// A file of the archive as it is described.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Described {
    /// What a row is, an address.
    pub(super) row_type: String,
    /// True for the file that the others hang on.
    pub(super) core: bool,
    /// Its name.
    pub(super) file: String,
    /// What stands between fields.
    pub(super) delimiter: u8,
    /// What encloses a field, if anything does.
    pub(super) quote: Option<u8>,
    /// Rows that are no data.
    pub(super) header_rows: u64,
    /// Where the row's identifier is, or that of the core's row it belongs to.
    pub(super) id: Option<usize>,
    /// Terms by name, with the column or a value that holds for all rows.
    pub(super) fields: Vec<Field>,
}

/// A column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Field {
    pub(super) term: String,
    pub(super) index: Option<usize>,
    pub(super) default: Option<String>,
}

/// Reads the description.
///
/// # Errors
/// The [`Fault`] for which the archive cannot be understood.
pub(super) fn read(text: &str) -> Result<Vec<Described>, Fault> {
    let mut reader = Reader::from_str(text);
    reader.config_mut().expand_empty_elements = true;
    let mut files: Vec<Described> = Vec::new();
    let mut open: Option<Described> = None;
    let mut in_location = false;
    loop {
        let read = text.get(..reader.buffer_position() as usize).unwrap_or(text);
        let line = 1 + read.matches('\n').count();
        let broken = |reason: String| Fault::new(line as u64, NAME, "", FaultKind::Syntax, reason);
        let event = reader.read_event().map_err(|error| broken(format!("is not well-formed XML: {error}")))?;
        match event {
            Event::Eof => break,
            // Entities of its own could grow without end; the format has no use for them.
            Event::DocType(_) => return Err(broken("has a document type; leave it out".to_owned())),
            Event::Start(element) => {
                let attributes = Attributes::of(&element).map_err(&broken)?;
                match element.local_name().as_ref() {
                    "core" => open = Some(described(&attributes, true).map_err(&broken)?),
                    "extension" => open = Some(described(&attributes, false).map_err(&broken)?),
                    "location" => in_location = true,
                    "id" | "coreid" => {
                        if let Some(file) = &mut open {
                            file.id = attributes.index().map_err(&broken)?;
                        }
                    }
                    "field" => {
                        if let Some(file) = &mut open
                            && let Some(field) = field(&attributes).map_err(&broken)?
                        {
                            file.fields.push(field);
                        }
                    }
                    _ => {}
                }
            }
            Event::Text(words) if in_location => {
                if let Some(file) = &mut open
                    && !words.trim().is_empty()
                {
                    if !file.file.is_empty() {
                        return Err(broken("describes rows in two files; put them into one".to_owned()));
                    }
                    words.trim().clone_into(&mut file.file);
                }
            }
            Event::End(element) => match element.local_name().as_ref() {
                "location" => in_location = false,
                "core" | "extension" => files.extend(open.take()),
                _ => {}
            },
            _ => {}
        }
    }
    if let Some(file) = files.iter().find(|file| file.file.is_empty()) {
        let reason = "a table has no file";
        return Err(fault(NAME, &file.row_type, FaultKind::MissingColumn, reason));
    }
    if files.iter().filter(|file| file.core).count() != 1 {
        return Err(fault(NAME, "", FaultKind::MissingColumn, "must describe one core table"));
    }
    Ok(files)
}

struct Attributes(Vec<(String, String)>);

impl Attributes {
    fn of(element: &BytesStart<'_>) -> Result<Self, String> {
        let read = |attribute: Result<quick_xml::events::attributes::Attribute<'_>, _>| {
            let attribute = attribute.map_err(|error: quick_xml::events::attributes::AttrError| error.to_string())?;
            let name = attribute.key.local_name().as_ref().to_owned();
            let value =
                attribute.normalized_value(XmlVersion::Implicit1_0).map_err(|error| error.to_string())?.into_owned();
            Ok((name, value))
        };
        element.attributes().map(read).collect::<Result<_, String>>().map(Self)
    }

    fn get(&self, name: &str) -> Option<&str> {
        self.0.iter().find(|(known, _)| known == name).map(|(_, value)| value.as_str())
    }

    fn index(&self) -> Result<Option<usize>, String> {
        let read = |text: &str| text.trim().parse::<usize>().ok().filter(|index| *index < MAX_FIELDS);
        match self.get("index") {
            None => Ok(None),
            Some(text) => read(text).map(Some).ok_or_else(|| format!("{text:?} is no number of a column")),
        }
    }
}

fn described(attributes: &Attributes, core: bool) -> Result<Described, String> {
    if let Some(encoding) = attributes.get("encoding")
        && !["utf-8", "utf8"].contains(&encoding.to_ascii_lowercase().as_str())
    {
        return Err(format!("a file is said to be {encoding}; only UTF-8 is read"));
    }
    // The defaults are those of the text guide.
    let delimiter = match unescaped(attributes.get("fieldsTerminatedBy").unwrap_or(",")).as_bytes() {
        [one] if one.is_ascii() && *one != b'\n' => *one,
        _ => return Err("fields must be separated by one character, such as a comma or a tab".to_owned()),
    };
    let quote = match unescaped(attributes.get("fieldsEnclosedBy").unwrap_or("\"")).as_bytes() {
        [] => None,
        [one] if one.is_ascii() => Some(*one),
        _ => return Err("fields must be enclosed by one character or by none".to_owned()),
    };
    if !["\n", "\r\n"].contains(&unescaped(attributes.get("linesTerminatedBy").unwrap_or("\n")).as_str()) {
        return Err("lines must end with a line feed".to_owned());
    }
    let header_rows = attributes
        .get("ignoreHeaderLines")
        .map_or(Ok(0), |text| text.trim().parse().map_err(|_| format!("{text:?} is no number of header lines")))?;
    Ok(Described {
        row_type: attributes.get("rowType").unwrap_or_default().trim().to_owned(),
        core,
        file: String::new(),
        delimiter,
        quote,
        header_rows,
        id: None,
        fields: Vec::new(),
    })
}

/// The column of a term of Darwin Core; other columns mean nothing here.
fn field(attributes: &Attributes) -> Result<Option<Field>, String> {
    let uri = attributes.get("term").ok_or("a field names no term")?;
    let Some(term) = terms::name(uri) else { return Ok(None) };
    let default = attributes.get("default").map(str::to_owned);
    Ok(Some(Field { term: term.to_owned(), index: attributes.index()?, default }))
}

fn unescaped(text: &str) -> String {
    text.replace("\\t", "\t").replace("\\n", "\n").replace("\\r", "\r")
}
