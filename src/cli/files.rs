//! Files in and out. Outputs are written beside their place and moved there all together at the
//! end, so that what is in the folder is whole, or as it was.

use crate::cli::args::ScenarioArgs;
use crate::cli::failure::Failure;
use backporch::base::diagnostic::Diagnostic;
use backporch::scenario::Scenario;
use backporch::scenario::load;
use std::collections::HashMap;
use std::fs::File;
use std::path::Path;
use std::path::PathBuf;
use std::sync::Mutex;
use std::sync::MutexGuard;
use std::sync::PoisonError;
use tempfile::NamedTempFile;

/// What is there and not whole: new folders, and the files on their way into them. Nobody holds it for
/// longer than it takes to make or move a file.
static UNFINISHED: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

fn unfinished() -> MutexGuard<'static, Vec<PathBuf>> {
    UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Takes away whatever is not whole, and lets nothing new begin until `then` is over.
pub(crate) fn abandon(then: impl FnOnce()) {
    let mut paths = unfinished();
    // Files stand behind the folder that they lie in; a folder in which there is more stays.
    for path in paths.drain(..).rev() {
        let _ = if path.is_dir() { std::fs::remove_dir(path) } else { std::fs::remove_file(path) };
    }
    then();
}

/// Reads the scenario that was asked for.
pub(crate) fn scenario(args: &ScenarioArgs) -> Result<Scenario, Failure> {
    load_scenario(&args.scenario, &args.set)
}

/// Reads a scenario, with changes for this run.
pub(crate) fn load_scenario(path: &Path, set: &[String]) -> Result<Scenario, Failure> {
    Library::default().load(path, set)
}

/// Scenarios of one file with one change or another; no file is read twice.
#[derive(Debug, Default)]
pub(crate) struct Library(HashMap<String, String>);

impl Library {
    /// Reads a scenario, with changes for this run.
    pub(crate) fn load(&mut self, path: &Path, set: &[String]) -> Result<Scenario, Failure> {
        if !path.exists() {
            return Err(no_such_file(path));
        }
        let texts = &mut self.0;
        let mut read = |path: &str| match texts.get(path) {
            Some(text) => Ok(text.clone()),
            None => {
                let text = std::fs::read_to_string(path)?;
                texts.insert(path.to_owned(), text.clone());
                Ok(text)
            }
        };
        load(&path.to_string_lossy(), set, &mut read).map_err(Failure::input)
    }
}

/// A new file, whole or not at all, and never in the place of another.
pub(crate) fn write_new(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    use std::io::Write;
    let name = path.display().to_string();
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let fail = |error: std::io::Error| Failure::world(&name, &error);
    // An interruption comes before all of this or after.
    let _whole = unfinished();
    let mut file = hidden(folder.unwrap_or(Path::new("."))).map_err(fail)?;
    file.write_all(bytes).map_err(fail)?;
    match file.persist_noclobber(path) {
        Ok(_) => Ok(()),
        Err(error) if error.error.kind() == std::io::ErrorKind::AlreadyExists => {
            Err(Failure::plain(format!("{name} is there already: choose another name")))
        }
        Err(error) => Err(fail(error.error)),
    }
}

/// A whole file on its way to a place of its own.
pub(crate) fn waiting(path: &Path, bytes: &[u8]) -> Result<OutputFolder, Failure> {
    let named = path.file_name().filter(|_| !path.is_dir());
    let Some(name) = named.map(|name| name.to_string_lossy()) else {
        return Err(Failure::plain(format!("{} is a folder, not a file", path.display())));
    };
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let mut files = OutputFolder::new(folder.unwrap_or(Path::new(".")))?;
    files.write(&name, bytes)?;
    Ok(files)
}

/// A scenario that is not there, and the one beside it that may be meant.
fn no_such_file(path: &Path) -> Failure {
    const NEAR: f64 = 0.7;
    let wanted = path.to_string_lossy();
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let beside = std::fs::read_dir(folder.unwrap_or(Path::new("."))).into_iter().flatten();
    let likeness = |name: &str| strsim::normalized_damerau_levenshtein(name, &wanted);
    let near = beside
        .filter_map(|entry| Some(path.with_file_name(entry.ok()?.file_name())))
        .filter(|other| other.extension().is_some_and(|ending| ending == "toml"))
        .map(|other| other.to_string_lossy().into_owned())
        .filter(|name| likeness(name) >= NEAR)
        .max_by(|a, b| likeness(a).total_cmp(&likeness(b)).then(b.cmp(a)));
    let hint = near.map(|near| format!("did you mean `{near}`?"));
    Failure::input(vec![Diagnostic {
        message: format!("there is no file `{wanted}`"),
        span: None,
        expected: String::new(),
        hint,
    }])
}

/// A folder that files are on their way to.
#[derive(Debug)]
pub(crate) struct OutputFolder {
    folder: PathBuf,
    waiting: Vec<(String, NamedTempFile)>,
    /// Whether the folder is new: one that nothing came of is taken away again.
    is_new: bool,
}

impl OutputFolder {
    /// Makes the folder, if need be.
    pub(crate) fn new(folder: &Path) -> Result<Self, Failure> {
        let is_new = !folder.exists();
        if folder.is_file() {
            return Err(Failure::plain(format!("{} is a file, not a folder", folder.display())));
        }
        let mut unfinished = unfinished();
        std::fs::create_dir_all(folder)
            .map_err(|error| Failure::world(&folder.display().to_string(), &error))?;
        unfinished.extend(is_new.then(|| folder.to_owned()));
        Ok(Self { folder: folder.to_owned(), waiting: Vec::new(), is_new })
    }

    /// Names of the files so far.
    pub(crate) fn names(&self) -> Vec<String> {
        self.waiting.iter().map(|(name, _)| name.clone()).collect()
    }

    /// Where a file of that name will be.
    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }

    /// A file to write to; it appears with [`OutputFolder::finish`].
    pub(crate) fn create(&mut self, name: &str) -> Result<File, Failure> {
        let fail = |error: std::io::Error| {
            Failure::world(&self.folder.join(name).display().to_string(), &error)
        };
        let mut unfinished = unfinished();
        let file = hidden(&self.folder).map_err(fail)?;
        unfinished.push(file.path().to_owned());
        drop(unfinished);
        let writer = file.reopen().map_err(fail)?;
        self.waiting.push((name.to_owned(), file));
        Ok(writer)
    }

    /// A whole file at once.
    pub(crate) fn write(&mut self, name: &str, bytes: &[u8]) -> Result<(), Failure> {
        use std::io::Write;
        let mut file = self.create(name)?;
        file.write_all(bytes)
            .map_err(|error| Failure::world(&self.path(name).display().to_string(), &error))
    }

    /// Whether it is this folder, or a file on its way into it.
    fn has(&self, path: &Path) -> bool {
        path == self.folder || self.waiting.iter().any(|(_, file)| file.path() == path)
    }

    /// Moves every file to its place and returns the paths in the order they were made.
    pub(crate) fn finish(mut self) -> Result<Vec<PathBuf>, Failure> {
        let mut paths = Vec::new();
        // Together: an interruption comes before all of them or after.
        let mut unfinished = unfinished();
        unfinished.retain(|path| !self.has(path));
        self.is_new = false;
        for (name, file) in self.waiting.drain(..) {
            let path = self.folder.join(name);
            file.persist(&path)
                .map_err(|error| Failure::world(&path.display().to_string(), &error.error))?;
            paths.push(path);
        }
        Ok(paths)
    }
}

impl Drop for OutputFolder {
    fn drop(&mut self) {
        let mut unfinished = unfinished();
        unfinished.retain(|path| !self.has(path));
        self.waiting.clear();
        if self.is_new {
            // Only an empty folder goes; that it stays is no harm.
            let _ = std::fs::remove_dir(&self.folder);
        }
    }
}

/// A file on its way into a folder.
fn hidden(folder: &Path) -> std::io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".backporch-");
    #[cfg(unix)]
    builder.permissions(readable());
    builder.tempfile_in(folder)
}

/// What a new file may be used for by whom, before the user's own mask.
#[cfg(unix)]
fn readable() -> std::fs::Permissions {
    use std::os::unix::fs::PermissionsExt;
    std::fs::Permissions::from_mode(0o666)
}
