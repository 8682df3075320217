//! The nearest word of a list: at most two edits, one for words under five letters.

/// Longer words are not compared: no word of the vocabulary is as long.
const LONGEST: usize = 28;

/// Words that mean what they say. Offering a neighbour of one would turn it into its opposite: `block other claw`
/// (the sound one) into `outer` (the sore one), `no block` into `on`, `unsound` into `sound`.
const SAYS_OPPOSITE: [&str; 9] = ["another", "except", "never", "no", "none", "not", "opposite", "other", "unsound"];

/// The candidate with the fewest edits; of equals one of the same length, then the first.
pub(super) fn nearest<'v, T>(word: &str, candidates: impl Iterator<Item = (&'v str, T)>) -> Option<T> {
    if word.split(' ').any(|word| SAYS_OPPOSITE.contains(&word)) {
        return None;
    }
    let word: Vec<char> = word.chars().take(LONGEST + 1).collect();
    if word.len() < 2 || word.len() > LONGEST || word.iter().any(char::is_ascii_digit) {
        return None;
    }
    let rank = |candidate: &str| {
        let candidate: Vec<char> = candidate.chars().collect();
        let most = if candidate.len() < 5 { 1 } else { 2 };
        let apart = word.len().abs_diff(candidate.len());
        if candidate.len() < 2 || apart > most {
            return None;
        }
        Some(edits(&word, &candidate)).filter(|edits| *edits <= most).map(|edits| (edits, apart))
    };
    candidates.filter_map(|(text, value)| Some((rank(text)?, value))).min_by_key(|(rank, _)| *rank).map(|(_, v)| v)
}

/// Letters put in, left out, changed, or two neighbours swapped.
fn edits(a: &[char], b: &[char]) -> usize {
    let mut before = vec![0; b.len() + 1];
    let mut above: Vec<usize> = (0..=b.len()).collect();
    for i in 1..=a.len() {
        let mut row = vec![i; b.len() + 1];
        for j in 1..=b.len() {
            let changed = above[j - 1] + usize::from(a[i - 1] != b[j - 1]);
            row[j] = changed.min(above[j] + 1).min(row[j - 1] + 1);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                row[j] = row[j].min(before[j - 2] + 1);
            }
        }
        before = std::mem::replace(&mut above, row);
    }
    above[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(word: &str, list: &[&'static str]) -> Option<&'static str> {
        nearest(word, list.iter().map(|w| (*w, *w)))
    }

    #[test]
    fn two_edits_for_long_words_and_one_for_short() {
        assert_eq!(near("otuer", &["inner", "outer"]), Some("outer"));
        assert_eq!(near("dresing", &["trim", "dressing"]), Some("dressing"));
        assert_eq!(near("trmi", &["trim"]), Some("trim"));
        assert_eq!(near("tmi", &["trim"]), None);
        assert_eq!(near("xy", &["x"]), None);
    }

    #[test]
    fn of_equals_the_same_length_wins() {
        assert_eq!(near("wlx", &["wl", "wlf", "wla"]), Some("wlf"));
    }

    #[test]
    fn a_word_of_opposite_sense_has_no_neighbours() {
        assert_eq!(near("other", &["inner", "outer"]), None);
        assert_eq!(near("no", &["on", "off", "lost"]), None);
        assert_eq!(near("unsound", &["sound", "better"]), None);
        assert_eq!(near("no better", &["better", "no change"]), None);
    }

    #[test]
    fn numbers_have_no_neighbours() {
        assert_eq!(near("m5", &["m4"]), None);
    }
}
