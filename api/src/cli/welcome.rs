//! What somebody sees when everything is up: where it is, who can sign in, what to try.

use std::fmt::Write;
use std::io::Write as _;
use std::path::Path;
use std::{fs, io};

use anyhow::Context;
use parings::demo;
use parings_core::calendar::BusinessDate;

/// Prints a text. A server goes on when nobody reads it, as in `parings up | head -n 1`.
pub fn say(text: &str) {
    if let Err(error) = writeln!(io::stdout(), "{text}") {
        tracing::debug!(%error, "nobody reads standard output");
    }
}

/// What the text depends on.
pub struct Welcome<'a> {
    /// Where the server answers.
    pub site: String,
    /// The data folder; the demo's sign-ins in it are shown.
    pub data: &'a Path,
    /// The server's log, if it is a file.
    pub log: Option<&'a Path>,
    /// Whether anybody is on record who could sign in.
    pub somebody: bool,
    /// The last night that has tallies.
    pub last_night: Option<BusinessDate>,
}

impl Welcome<'_> {
    /// The text. Every line to try works when it is pasted.
    pub fn text(&self) -> anyhow::Result<String> {
        let (site, data) = (&self.site, self.data);
        let mut text = format!("\nParings answers at {site}\n\n  data  {}\n", data.display());
        if let Some(log) = self.log {
            writeln!(text, "  log   {}", log.display())?;
        }
        let sign_ins = data.join(demo::FILE);
        let told = if sign_ins.exists() {
            fs::read_to_string(&sign_ins)
                .with_context(|| format!("cannot read {}", sign_ins.display()))?
        } else {
            String::new()
        };
        if !told.is_empty() {
            writeln!(text, "\nSign-ins of the demo, kept in {}:\n", sign_ins.display())?;
            for line in told.lines() {
                writeln!(text, "  {line}")?;
            }
        }
        writeln!(text, "\nThree things to try:\n")?;
        for line in self.to_try(&told) {
            writeln!(text, "  {line}")?;
        }
        if !self.somebody {
            let program = std::env::current_exe()?;
            let (program, data) = (quoted(&program), quoted(data));
            writeln!(text, "\nNobody can sign in yet. Add the first person of head office:\n")?;
            writeln!(text, "  {program} people add ada@example.com --name Ada --data {data}")?;
        }
        write!(text, "\nCtrl-C stops it; the data stay.")?;
        Ok(text)
    }

    /// Lines to paste: with the demo, what a manager, a coach and head office see.
    fn to_try(&self, sign_ins: &str) -> Vec<String> {
        let site = &self.site;
        let shown = self.last_night.and_then(|night| {
            let manager = SignIn::of(sign_ins, "manager")?;
            let coach = SignIn::of(sign_ins, "coach")?;
            let office = SignIn::of(sign_ins, "office")?;
            let week = night.plus_days(-6);
            let get = |who: &SignIn<'_>, path: &str| {
                let SignIn { email, password, .. } = who;
                format!("curl -s -H \"$(bearer {email} {password})\" '{site}{path}'")
            };
            let span = format!("from={week}&to={night}");
            let district = format!("district:{}", coach.place);
            Some(vec![
                format!(
                    "bearer() {{ curl -sSf {site}/v1/sessions -H 'content-type: application/json' \
                     -d \"{{\\\"email\\\":\\\"$1\\\",\\\"password\\\":\\\"$2\\\"}}\" \
                     | sed -E 's/.*\"access_token\":\"([^\"]+)\".*/authorization: Bearer \\1/'; }}"
                ),
                String::new(),
                "# a manager reads what last night's count means".to_owned(),
                get(&manager, &format!("/v1/stores/{}/nights/{night}", manager.place)),
                "# an area coach reads the week of the district, store by store".to_owned(),
                get(&coach, &format!("/v1/rollups?scope={district}&{span}&by=none&children=true")),
                "# head office reads the week of the network".to_owned(),
                get(&office, &format!("/v1/rollups?scope=network&{span}&by=day")),
            ])
        });
        shown.unwrap_or_else(|| {
            vec![
                format!("curl -s {site}/readyz"),
                format!("curl -s {site}/openapi.json"),
                format!("open {site}/docs/ in a browser"),
            ]
        })
    }
}

/// A line of the demo's file of sign-ins: role, place, name, address, password.
struct SignIn<'a> {
    place: &'a str,
    email: &'a str,
    password: &'a str,
}

impl<'a> SignIn<'a> {
    /// The first of a role.
    fn of(lines: &'a str, role: &str) -> Option<Self> {
        lines.lines().find_map(|line| {
            let words: Vec<&str> = line.split_whitespace().collect();
            let email = words.iter().find(|word| word.contains('@'))?;
            let (first, place, password) = (words.first()?, words.get(1)?, words.last()?);
            (*first == role).then_some(Self { place, email, password })
        })
    }
}

/// A path as a shell takes it.
fn quoted(path: &Path) -> String {
    let path = path.to_string_lossy();
    let plain = |c: char| c.is_ascii_alphanumeric() || "/._-".contains(c);
    if path.chars().all(plain) {
        path.into_owned()
    } else {
        format!("'{}'", path.replace('\'', r"'\''"))
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;
    use std::process::Command;

    use super::quoted;

    /// The witness is the shell itself.
    #[test]
    fn the_shell_reads_a_quoted_path_back() {
        for path in ["/var/lib/parings", "/tmp/a b", "/tmp/it's $HOME `x` \"y\" \\"] {
            let line = format!("printf %s {}", quoted(Path::new(path)));
            let said = Command::new("sh").args(["-c", &line]).output().expect("a shell");
            assert_eq!(String::from_utf8_lossy(&said.stdout), path);
        }
    }
}
