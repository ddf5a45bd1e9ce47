//! Network file systems, on which a benchbook is not written: their locks do
//! not keep two machines apart, and the WAL needs memory that both share
//! (sqlite.org/wal.html, sqlite.org/howtocorrupt.html section 2.1).

use std::path::{Path, PathBuf};

use crate::errors::BenchbookError;

/// Kinds of file system that reach over a network, or to the host of a
/// virtual machine, as Linux names them.
const NETWORK: &[&str] = &[
    "9p",
    "afs",
    "ceph",
    "cifs",
    "coda",
    "fuse.cephfs",
    "fuse.davfs",
    "fuse.davfs2",
    "fuse.gcsfuse",
    "fuse.glusterfs",
    "fuse.rclone",
    "fuse.s3fs",
    "fuse.sshfs",
    "gfs2",
    "lustre",
    "ncpfs",
    "nfs",
    "nfs4",
    "ocfs2",
    "smb2",
    "smb3",
    "smbfs",
];

/// Refuses to write on a network file system. Where the system does not say
/// what lies under a path, nothing is refused.
pub(crate) fn refuse(path: &Path) -> Result<(), BenchbookError> {
    #[cfg(target_os = "linux")]
    if let Ok(mounts) = std::fs::read_to_string("/proc/self/mountinfo")
        && let Some(kind) = network_kind(&mounts, &real_path(path))
    {
        return Err(BenchbookError::NetworkFileSystem { path: path.to_path_buf(), kind });
    }
    #[cfg(windows)]
    if path.to_string_lossy().starts_with(r"\\") && !path.to_string_lossy().starts_with(r"\\?\") {
        let kind = "a shared folder".to_owned();
        return Err(BenchbookError::NetworkFileSystem { path: path.to_path_buf(), kind });
    }
    let _ = path;
    Ok(())
}

/// The path without links; of a file that is not there yet, that of its folder.
fn real_path(path: &Path) -> PathBuf {
    let absolute = std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf());
    absolute.ancestors().find_map(|ancestor| ancestor.canonicalize().ok()).unwrap_or(absolute)
}

/// Kind of the file system under `path` where it is one of a network.
fn network_kind(mounts: &str, path: &Path) -> Option<String> {
    let mut best: Option<(usize, &str)> = None;
    for line in mounts.lines() {
        // Fields, see proc(5): mount point is the fifth, the kind the first
        // after a lone hyphen.
        let Some((before, after)) = line.split_once(" - ") else { continue };
        let Some(point) = before.split(' ').nth(4) else { continue };
        let Some(kind) = after.split(' ').next() else { continue };
        let point = unescaped(point);
        // Of two mounts on one point the later one is seen.
        if path.starts_with(&point) && best.is_none_or(|(length, _)| point.len() >= length) {
            best = Some((point.len(), kind));
        }
    }
    best.map(|(_, kind)| kind.to_owned()).filter(|kind| NETWORK.contains(&kind.as_str()))
}

/// A mount point as it is: space, tab, line feed and backslash stand there as
/// a backslash with three octal digits.
fn unescaped(point: &str) -> String {
    let mut text = String::with_capacity(point.len());
    let mut rest = point;
    while let Some((before, after)) = rest.split_once('\\') {
        text.push_str(before);
        let code = after.get(..3).and_then(|digits| u8::from_str_radix(digits, 8).ok());
        match code {
            Some(code) => {
                text.push(char::from(code));
                rest = &after[3..];
            }
            None => {
                text.push('\\');
                rest = after;
            }
        }
    }
    text + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Invented, in the form that proc(5) describes.
    const MOUNTS: &str = "\
22 28 0:20 / / rw,relatime shared:1 - ext4 /dev/vda rw
30 28 0:31 / /proc rw - proc proc rw
41 28 0:40 / /srv/shared rw,relatime shared:9 - nfs4 server.invalid:/export rw,vers=4.2
42 28 0:41 / /srv/shared/local rw - xfs /dev/vdb rw
43 28 0:42 / /mnt/two\\040words rw - cifs //server.invalid/share rw
44 28 0:43 / /mnt/over rw - nfs server.invalid:/a rw
45 28 0:44 / /mnt/over rw - ext4 /dev/vdc rw
";

    #[test]
    fn the_nearest_mount_decides() {
        let kind = |path: &str| network_kind(MOUNTS, Path::new(path));
        assert_eq!(kind("/home/a/b.benchbook"), None);
        assert_eq!(kind("/srv/shared/b.benchbook").as_deref(), Some("nfs4"));
        assert_eq!(kind("/srv/sharedness/b.benchbook"), None);
        assert_eq!(kind("/srv/shared/local/b.benchbook"), None);
        assert_eq!(kind("/mnt/two words/b").as_deref(), Some("cifs"));
        assert_eq!(kind("/mnt/over/b"), None, "the later mount lies on top");
    }

    #[test]
    fn the_folder_of_this_test_may_be_written() {
        let folder = tempfile::tempdir().unwrap();
        assert!(refuse(&folder.path().join("not there yet")).is_ok());
    }
}
