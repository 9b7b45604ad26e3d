//! Words and short expressions that mean the same.
//!
//! Takes groups, each a word and what else is said for it; holds them, beside a small core of its own for "does not work",
//! "is well" and the like, until an index is built. A group given here wins over the core. Never guesses: two groups that
//! claim one word are reported by [`Thesaurus::clashes`], and the earlier one keeps it.

use std::collections::HashMap;

use super::common_words;
use super::normalise::Text;

/// Words that mean the same as a word.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Alike {
    /// The word (or short expression) all of them are taken for.
    pub word: String,
    /// What else is said for it; expressions of several words are welcome.
    pub words: Vec<String>,
}

/// One word or expression claimed by two groups.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Clash {
    /// The word or expression, in plain form.
    pub word: String,
    /// The group that has it first.
    pub first: String,
    /// The group that claims it too.
    pub second: String,
}

/// Groups of words that mean the same.
#[derive(Clone, Debug)]
pub struct Thesaurus {
    pub(super) groups: Vec<Group>,
    own: usize,
}

/// One group, in plain words.
#[derive(Clone, Debug)]
pub(super) struct Group {
    /// The words of its key.
    pub key: Vec<String>,
    /// Its other members, each in words; the key is not among them.
    pub members: Vec<Vec<String>>,
}

impl Group {
    /// The key, if it is a single word.
    pub fn key_word(&self) -> Option<&str> {
        match self.key.as_slice() {
            [word] => Some(word),
            _ => None,
        }
    }
}

impl Default for Thesaurus {
    fn default() -> Self {
        Thesaurus::new([])
    }
}

impl Thesaurus {
    /// Takes the groups, in any order.
    pub fn new(groups: impl IntoIterator<Item = Alike>) -> Thesaurus {
        let core = common_words::CORE.iter().map(|(key, members)| Group {
            key: plain_words(key),
            members: members.iter().map(|m| plain_words(m)).collect(),
        });
        let mut all: Vec<Group> = core.collect();
        let own = all.len();
        for alike in groups {
            let key = plain_words(&alike.word);
            if key.is_empty() {
                continue;
            }
            let members = alike.words.iter().map(|w| plain_words(w)).filter(|w| !w.is_empty() && *w != key).collect();
            all.push(Group { key, members });
        }
        Thesaurus { groups: all, own }
    }

    /// Adds the glossary: a term and its other names. Where a word group already holds the term, its other names join that group; a name
    /// that any group claims already stays there, the core's too.
    pub fn and_glossary(mut self, terms: impl IntoIterator<Item = Alike>) -> Thesaurus {
        let mut holder: HashMap<Vec<String>, usize> = HashMap::new();
        for (number, group) in self.groups.iter().enumerate() {
            for member in std::iter::once(&group.key).chain(&group.members) {
                holder.entry(member.clone()).or_insert(number);
            }
        }
        for term in terms {
            let key = plain_words(&term.word);
            if key.is_empty() {
                continue;
            }
            let number = *holder.entry(key.clone()).or_insert_with(|| {
                self.groups.push(Group { key, members: Vec::new() });
                self.groups.len() - 1
            });
            for other in term.words.iter().map(|w| plain_words(w)).filter(|w| !w.is_empty()) {
                holder.entry(other.clone()).or_insert_with(|| {
                    self.groups[number].members.push(other);
                    number
                });
            }
        }
        self
    }

    /// The groups given, then the core.
    pub(super) fn callers_first(&self) -> impl Iterator<Item = &Group> {
        let (core, given) = self.groups.split_at(self.own);
        given.iter().chain(core)
    }

    /// Every word or expression that stands in two of the groups given to [`Thesaurus::new`].
    pub fn clashes(&self) -> Vec<Clash> {
        let mut holders: HashMap<&[String], &Group> = HashMap::new();
        let mut clashes = Vec::new();
        for group in &self.groups[self.own..] {
            for member in std::iter::once(&group.key).chain(&group.members) {
                match holders.get(member.as_slice()) {
                    Some(first) if first.key != group.key => clashes.push(Clash {
                        word: member.join(" "),
                        first: first.key.join(" "),
                        second: group.key.join(" "),
                    }),
                    Some(_) => {}
                    None => {
                        holders.insert(member, group);
                    }
                }
            }
        }
        clashes
    }
}

fn plain_words(text: &str) -> Vec<String> {
    Text::new(text, 8).tokens.into_iter().map(|t| t.word).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn alike(word: &str, words: &[&str]) -> Alike {
        Alike { word: word.into(), words: words.iter().map(|w| w.to_string()).collect() }
    }

    #[test]
    fn a_word_in_two_groups_is_a_clash() {
        let thesaurus =
            Thesaurus::new([alike("lamp", &["light"]), alike("dim", &["Light", "faint"]), alike("light", &[])]);
        let clashes = thesaurus.clashes();
        assert_eq!(clashes.len(), 2);
        assert_eq!(
            (clashes[0].word.as_str(), clashes[0].first.as_str(), clashes[0].second.as_str()),
            ("light", "lamp", "dim")
        );
    }

    #[test]
    fn a_word_twice_in_one_group_is_none() {
        assert_eq!(Thesaurus::new([alike("lamp", &["light", "light", "lamp"])]).clashes(), []);
    }

    #[test]
    fn a_glossary_adds_names_and_takes_none_away() {
        let thesaurus = Thesaurus::new([alike("lamp", &["light"])]);
        let thesaurus = thesaurus.and_glossary([alike("light", &["lantern"]), alike("dynamo", &["generator", "lamp"])]);
        let own = &thesaurus.groups[thesaurus.own..];
        assert_eq!(own.len(), 2);
        assert_eq!(own[0].members, [["light"], ["lantern"]]);
        assert_eq!(
            (own[1].key.as_slice(), own[1].members.as_slice()),
            (["dynamo".to_owned()].as_slice(), [vec!["generator".to_owned()]].as_slice())
        );
    }

    #[test]
    fn a_group_without_a_word_is_left_out() {
        assert_eq!(Thesaurus::new([alike("--", &["x"])]).groups.len(), Thesaurus::default().groups.len());
    }
}
