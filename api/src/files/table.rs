//! Records of a CSV file (RFC 4180), strictly, with the lines they are at.

use super::{BadRows, Dialect};
use crate::http::nul;

/// A record of CSV, which may go over several lines.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Record {
    /// The line it starts at.
    pub line: u64,
    /// What its cells hold, from left to right, without quotation marks.
    pub cells: Vec<String>,
}

/// The text of a file, without a byte order mark.
///
/// # Errors
/// The line where it is not UTF-8, or has the character that no text keeps.
pub fn text(bytes: &[u8]) -> Result<&str, BadRows> {
    if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) {
        return Err(BadRows::one(1, None, "this is UTF-16: save the file as UTF-8"));
    }
    let bytes = bytes.strip_prefix("\u{feff}".as_bytes()).unwrap_or(bytes);
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let at = error.valid_up_to();
        let says = format!(
            "the byte 0x{:02X} is no UTF-8: save the file as UTF-8",
            bytes.get(at).copied().unwrap_or_default()
        );
        BadRows::one(lines_in(&bytes[..at]) + 1, None, says)
    })?;
    match text.find('\0') {
        Some(at) => Err(BadRows::one(lines_in(&bytes[..at]) + 1, None, nul::SAYS)),
        None => Ok(text),
    }
}

/// How many lines end within: with LF, CRLF, or CR alone.
fn lines_in(bytes: &[u8]) -> u64 {
    let ends = bytes.iter().enumerate().filter(|(n, byte)| match byte {
        b'\n' => true,
        b'\r' => bytes.get(n + 1).is_some_and(|next| *next != b'\n'),
        _ => false,
    });
    u64::try_from(ends.count()).unwrap_or(u64::MAX)
}

/// Records one by one; the header is the first.
pub struct Records<'a> {
    text: &'a str,
    reader: csv::Reader<&'a [u8]>,
    counted: usize,
    line: u64,
}

impl<'a> Records<'a> {
    /// Of a text in a dialect. Empty lines are passed over.
    pub fn new(text: &'a str, dialect: Dialect) -> Self {
        let reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(dialect.separator())
            .from_reader(text.as_bytes());
        Self { text, reader, counted: 0, line: 1 }
    }

    /// The line a byte is on; bytes are asked for in order.
    fn line_of(&mut self, at: usize) -> u64 {
        self.line += lines_in(&self.text.as_bytes()[self.counted..at]);
        self.counted = at;
        self.line
    }
}

impl Iterator for Records<'_> {
    type Item = Result<Record, (u64, String)>;

    fn next(&mut self) -> Option<Self::Item> {
        let offset = |reader: &csv::Reader<&[u8]>| {
            usize::try_from(reader.position().byte()).unwrap_or(usize::MAX)
        };
        let mut record = csv::StringRecord::new();
        let start = offset(&self.reader);
        let read = self.reader.read_record(&mut record);
        let end = offset(&self.reader).min(self.text.len());
        let raw = &self.text[start..end];
        let blank = raw.len() - raw.trim_start_matches(['\r', '\n']).len();
        match read {
            Ok(false) => None,
            // Quotation marks come in pairs; the reader takes one that is left open to the end.
            Ok(true) if raw.bytes().filter(|byte| *byte == b'"').count() % 2 == 1 => {
                let says = "a quotation mark is not closed, or one within quotation marks is not \
                            doubled";
                Some(Err((self.line_of(start + blank), says.to_owned())))
            }
            Ok(true) => {
                let line = self.line_of(start + blank);
                Some(Ok(Record { line, cells: record.iter().map(str::to_owned).collect() }))
            }
            Err(error) => Some(Err((self.line_of(start + blank), error.to_string()))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(text: &str) -> Vec<(u64, Vec<String>)> {
        let records = Records::new(text, Dialect::Comma);
        records.map(|record| record.map(|r| (r.line, r.cells)).unwrap()).collect()
    }

    #[test]
    fn a_record_is_at_the_line_it_starts_on() {
        let cells = |cells: &[&str]| cells.iter().map(|c| (*c).to_owned()).collect::<Vec<_>>();
        for end in ["\n", "\r\n"] {
            let text = ["a,b", "1,\"x", "y\"", "", "2,z", ""].join(end);
            let told = lines(&text);
            let broken = format!("x{end}y");
            assert_eq!(told[0], (1, cells(&["a", "b"])));
            assert_eq!(told[1], (2, cells(&["1", &broken])));
            assert_eq!(told[2], (5, cells(&["2", "z"])));
            assert_eq!(told.len(), 3);
        }
    }

    #[test]
    fn an_open_quotation_mark_is_refused_at_its_line() {
        let mut records = Records::new("a,b\n1,\"x\n2,y\n", Dialect::Comma);
        assert!(records.next().unwrap().is_ok());
        assert_eq!(records.next().unwrap().unwrap_err().0, 2);
    }

    #[test]
    fn what_is_no_utf_8_is_told_with_its_line() {
        assert_eq!(text(b"\xEF\xBB\xBFa\n"), Ok("a\n"));
        let bad = text(b"a\r\nb\r\nCaf\xE9\r\n").unwrap_err();
        assert_eq!(bad.rows[0].line, 3);
        assert!(bad.rows[0].says.contains("0xE9"), "{bad:?}");
        assert!(text(b"\xFF\xFEa\0").unwrap_err().rows[0].says.contains("UTF-16"));
    }
}
