//! Whole numbers as bytes: seven bits a byte, the lowest first, the eighth says that more follow
//! (LEB128, as DWARF 5, section 7.6, has it). A number that may lie below zero is sent as twice its
//! size, less one if it does, so that small ones stay short. What is kept in this form begins with the
//! number of its version.

/// Why bytes cannot be read. What the rules wrote can be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Unreadable {
    /// They are of a version that this code does not know.
    #[error("these bytes are of version {0}, which is not known")]
    Version(u64),
    /// They end too early.
    #[error("these bytes end before their numbers do")]
    Ends,
    /// Something follows their end.
    #[error("something follows the end of these bytes")]
    Follows,
    /// A number is too long.
    #[error("a number in these bytes is too long")]
    Long,
    /// There is no such field, or not with such a value.
    #[error("these bytes have a field that is not known")]
    Field,
    /// The codes are not as they should be, or one is named that is not among them.
    #[error("the codes of these bytes cannot be read")]
    Codes,
}

/// Numbers being written.
#[derive(Default)]
pub(crate) struct Writer {
    pub(crate) bytes: Vec<u8>,
    too_large: bool,
}

impl Writer {
    pub(crate) fn count(&mut self, mut value: u64) {
        self.too_large |= value >= 1 << 63;
        while value >= 0x80 {
            self.bytes.push(value as u8 | 0x80);
            value >>= 7;
        }
        self.bytes.push(value as u8);
    }

    pub(crate) fn number(&mut self, value: i64) {
        self.count(((value << 1) ^ (value >> 63)) as u64);
    }

    /// A text: its length, then its letters.
    pub(crate) fn text(&mut self, text: &str) {
        self.count(text.len() as u64);
        self.bytes.extend_from_slice(text.as_bytes());
    }

    /// Whether every number so far is one that readers with 64 bits and a sign can read.
    pub(crate) fn fits(&self) -> bool {
        !self.too_large
    }

    /// Of a list of numbers those that are not zero, after a count whose bits say which.
    pub(crate) fn numbers(&mut self, values: &[i64]) {
        let bit = |(n, value): (usize, &i64)| u64::from(*value != 0) << n;
        self.count(values.iter().enumerate().map(bit).sum());
        for value in values.iter().filter(|value| **value != 0) {
            self.number(*value);
        }
    }
}

/// Numbers being read.
pub(crate) struct Reader<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Reader<'a> {
    pub(crate) fn new(bytes: &'a [u8]) -> Self {
        Self { bytes, at: 0 }
    }

    #[inline]
    pub(crate) fn count(&mut self) -> Result<u64, Unreadable> {
        let (mut value, mut shift) = (0, 0);
        loop {
            let byte = *self.bytes.get(self.at).ok_or(Unreadable::Ends)?;
            self.at += 1;
            value |= u64::from(byte & 0x7f).checked_shl(shift).ok_or(Unreadable::Long)?;
            if byte < 0x80 {
                return Ok(value);
            }
            shift += 7;
        }
    }

    #[inline]
    pub(crate) fn number(&mut self) -> Result<i64, Unreadable> {
        let value = self.count()?;
        Ok((value >> 1) as i64 ^ -((value & 1) as i64))
    }

    #[inline]
    pub(crate) fn numbers<const N: usize>(&mut self) -> Result<[i64; N], Unreadable> {
        let mut bits = self.count()?;
        let mut values = [0; N];
        while bits != 0 {
            let n = bits.trailing_zeros() as usize;
            *values.get_mut(n).ok_or(Unreadable::Field)? = self.number()?;
            bits &= bits - 1;
        }
        Ok(values)
    }

    /// A text: its length, then its letters.
    pub(crate) fn text(&mut self) -> Result<&'a str, Unreadable> {
        let length = usize::try_from(self.count()?).map_err(|_| Unreadable::Long)?;
        let end = self.at.checked_add(length).ok_or(Unreadable::Long)?;
        let letters = self.bytes.get(self.at..end).ok_or(Unreadable::Ends)?;
        self.at = end;
        std::str::from_utf8(letters).map_err(|_| Unreadable::Codes)
    }

    /// Nothing may follow what was read.
    pub(crate) fn end(&self) -> Result<(), Unreadable> {
        if self.at == self.bytes.len() { Ok(()) } else { Err(Unreadable::Follows) }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Source: DWARF Debugging Information Format 5 (2017), section 7.6, figure 22: 2, 127, 128, 129,
    /// 12857 unsigned.
    #[test]
    fn counts_are_written_as_the_standard_has_them() {
        for (value, bytes) in [
            (2, vec![0x02]),
            (127, vec![0x7f]),
            (128, vec![0x80, 0x01]),
            (129, vec![0x81, 0x01]),
            (12_857, vec![0xb9, 0x64]),
        ] {
            let mut writer = Writer::default();
            writer.count(value);
            assert_eq!(writer.bytes, bytes, "{value}");
        }
    }

    proptest! {
        #[test]
        fn every_number_is_read_as_it_was_written(all in prop::array::uniform9(any::<i64>())) {
            let mut writer = Writer::default();
            writer.numbers(&all);
            let mut reader = Reader::new(&writer.bytes);
            prop_assert_eq!(reader.numbers::<9>(), Ok(all));
            prop_assert_eq!(reader.end(), Ok(()));
            let cut = &writer.bytes[..writer.bytes.len() - 1];
            prop_assert!(cut.is_empty() || Reader::new(cut).numbers::<9>().is_err());
        }
    }
}
