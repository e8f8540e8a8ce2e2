//! Files in and out. Outputs are written beside their place and moved there all together at the
//! end, so that what is in the folder is whole, or as it was.

use crate::cli::args::ScenarioArgs;
use crate::cli::failure::Failure;
use backporch::scenario::Scenario;
use backporch::scenario::load;
use std::fs::File;
use std::path::Path;
use std::path::PathBuf;
use tempfile::NamedTempFile;

/// Reads the scenario that was asked for.
pub(crate) fn scenario(args: &ScenarioArgs) -> Result<Scenario, Failure> {
    let name = args.scenario.to_string_lossy();
    load(&name, &args.set, &mut |path| std::fs::read_to_string(path)).map_err(Failure::input)
}

/// A folder that files are on their way to.
#[derive(Debug)]
pub(crate) struct OutputFolder {
    folder: PathBuf,
    waiting: Vec<(String, NamedTempFile)>,
}

impl OutputFolder {
    /// Makes the folder, if need be.
    pub(crate) fn new(folder: &Path) -> Result<Self, Failure> {
        std::fs::create_dir_all(folder)
            .map_err(|error| Failure::world(&folder.display().to_string(), &error))?;
        Ok(Self { folder: folder.to_owned(), waiting: Vec::new() })
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
        let mut builder = tempfile::Builder::new();
        builder.prefix(".backporch-");
        #[cfg(unix)]
        builder.permissions(readable());
        let file = builder.tempfile_in(&self.folder).map_err(fail)?;
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

    /// Moves every file to its place and returns the paths in the order they were made.
    pub(crate) fn finish(self) -> Result<Vec<PathBuf>, Failure> {
        let mut paths = Vec::new();
        for (name, file) in self.waiting {
            let path = self.folder.join(name);
            file.persist(&path)
                .map_err(|error| Failure::world(&path.display().to_string(), &error.error))?;
            paths.push(path);
        }
        Ok(paths)
    }
}

/// What a new file may be used for by whom, before the user's own mask.
#[cfg(unix)]
fn readable() -> std::fs::Permissions {
    use std::os::unix::fs::PermissionsExt;
    std::fs::Permissions::from_mode(0o666)
}
