//! Processes killed half-way.

use super::support::{PROGRAM, Scene, compare, names, run_after};
use std::os::unix::process::ExitStatusExt as _;
use std::process::{Command, Stdio};

/// The signal that ends a process which writes more than its limit.
const XFSZ: i32 = 25;

/// Files that the killed run is left time to write before it is killed.
const WRITTEN: [usize; 4] = [0, 1, 4, 8];

#[test]
fn killed_while_writing_a_file_the_old_folder_stays() {
    let scene = Scene::set();
    for room in [0, 16] {
        scene.reset();
        let limit = format!("ulimit -c 0; ulimit -f {room}");
        let output = run_after(&limit, &compare(&scene.fresh, &scene.out));
        assert_eq!(output.status.signal(), Some(XFSZ), "{room} KiB");
        scene.is_whole();
        assert_eq!(names(&scene.folder.0).len(), 4, "a part is left");
        scene.mends_itself();
    }
}

#[test]
fn killed_at_any_moment_the_folder_is_whole() {
    let scene = Scene::set();
    for files in WRITTEN {
        scene.reset();
        let mut child = Command::new(PROGRAM)
            .args(compare(&scene.fresh, &scene.out))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let part = scene.folder.0.join(format!(".out.part-{}", child.id()));
        // Until it has written that many files, or is done: both are moments like any other.
        while child.try_wait().unwrap().is_none() && written(&part) < files {
            std::thread::yield_now();
        }
        child.kill().unwrap();
        child.wait().unwrap();
        scene.is_whole();
        scene.mends_itself();
    }
}

/// Files and folders below a folder that may come and go.
fn written(folder: &std::path::Path) -> usize {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return 0;
    };
    entries.flatten().map(|e| 1 + written(&e.path())).sum()
}
