use std::collections::HashMap;
use std::sync::Arc;

/// A word of a sheet (the name of a store, district, format, lot …) by its place in [`Labels`].
/// Stores of a file are called as the file calls them, so a label is any text.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Label(u32);

/// The words of a sheet, each kept once.
///
/// ```
/// use parings_core::review::Labels;
/// let mut labels = Labels::default();
/// let ford = labels.label("Ford");
/// assert_eq!(labels.label("Ford"), ford);
/// assert_ne!(labels.label("Mill"), ford);
/// assert_eq!(labels.word(ford), "Ford");
/// ```
#[derive(Debug, Clone, Default)]
pub struct Labels {
    words: Vec<Arc<str>>,
    by_word: HashMap<Arc<str>, Label>,
}

impl Labels {
    /// The label of a word; a new one when it was not met before.
    pub fn label(&mut self, word: &str) -> Label {
        if let Some(label) = self.by_word.get(word) {
            return *label;
        }
        // A sheet of four thousand million different words does not fit into memory.
        let label = Label(u32::try_from(self.words.len()).unwrap_or(u32::MAX));
        let word: Arc<str> = word.into();
        self.words.push(Arc::clone(&word));
        self.by_word.insert(word, label);
        label
    }

    /// The label of a word that was met before.
    pub fn find(&self, word: &str) -> Option<Label> {
        self.by_word.get(word).copied()
    }

    /// The word of a label of these; nothing of a label of others.
    pub fn word(&self, label: Label) -> &str {
        self.words.get(label.0 as usize).map_or("", |word| word)
    }

    /// How many there are.
    pub(super) fn len(&self) -> usize {
        self.words.len()
    }
}

impl Label {
    /// Its place, from 0.
    pub(super) fn index(self) -> usize {
        self.0 as usize
    }
}
