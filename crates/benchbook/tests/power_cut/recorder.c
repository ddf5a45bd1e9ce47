/* Records what a process does to one SQLite database: every write, truncation,
 * sync and removal of the file and its side files, in the order in which the
 * system saw them, and what the process acknowledged between.
 *
 * Loaded in front of the C library (LD_PRELOAD); used by power_cut.rs only.
 *
 *   RECORD_OF  the database, absolute; side files are RECORD_OF-wal and
 *              RECORD_OF-journal, acknowledgements are written to RECORD_OF.ack
 *   RECORD_TO  where the record goes
 *   FAIL_AT    number of the write, truncation or sync that fails, counted from
 *              1; acknowledgements do not count, other files in the folder of
 *              RECORD_OF do
 *   FAIL_WITH  its errno
 *   FAIL_ON    set: every one from there on fails too
 *   SYNC_TAKES how long a sync of these files takes, in microseconds
 *
 * A record: kind (W write, T truncate, S sync, U unlink, A acknowledged,
 * F failed), file (0 database, 1 wal, 2 journal, 3 acknowledgements, 4 another
 * file of the folder), offset and length as 8-byte native integers, then the
 * bytes of a write or acknowledgement.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <sys/types.h>
#include <unistd.h>

#define MOST_FILES 4096

static pthread_mutex_t order = PTHREAD_MUTEX_INITIALIZER;
static signed char file_of[MOST_FILES]; /* file + 1; 0 is none of ours */
static int record = -1;

static int which(const char *path) {
    const char *of = getenv("RECORD_OF");
    size_t n = of ? strlen(of) : 0;
    if (!of) return -1;
    if (strncmp(path, of, n) != 0) {
        size_t folder = (size_t)(strrchr(of, '/') - of) + 1;
        return strncmp(path, of, folder) == 0 ? 4 : -1;
    }
    if (!path[n]) return 0;
    if (!strcmp(path + n, "-wal")) return 1;
    if (!strcmp(path + n, "-journal")) return 2;
    if (!strcmp(path + n, ".ack")) return 3;
    return 4;
}

static void put(char kind, int file, int64_t offset, int64_t length, const void *bytes) {
    char head[18];
    if (file == 4 && kind != 'F') return;
    if (record < 0) {
        const char *to = getenv("RECORD_TO");
        if (!to) return;
        record = (int)syscall(SYS_openat, AT_FDCWD, to, O_WRONLY | O_CREAT | O_APPEND, 0600);
        if (record < 0) abort();
    }
    head[0] = kind;
    head[1] = (char)file;
    memcpy(head + 2, &offset, 8);
    memcpy(head + 10, &length, 8);
    if (syscall(SYS_write, record, head, 18) != 18) abort();
    if (bytes && syscall(SYS_write, record, bytes, (size_t)length) != length) abort();
}

static int file(int fd) {
    return fd >= 0 && fd < MOST_FILES ? file_of[fd] - 1 : -1;
}

/* True where this call is the one that fails; the caller holds `order`. */
static int fails(int f) {
    static long count;
    const char *at = getenv("FAIL_AT");
    if (!at || f == 3) return 0;
    count++;
    if (count != atol(at) && !(getenv("FAIL_ON") && count > atol(at))) return 0;
    put('F', f, 0, 0, NULL);
    errno = atoi(getenv("FAIL_WITH"));
    return 1;
}

#define REAL(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))

static int opened(int fd, const char *path) {
    if (fd >= 0 && fd < MOST_FILES) file_of[fd] = (signed char)(which(path) + 1);
    return fd;
}

#define OPEN(name)                                                          \
    int name(const char *path, int flags, ...) {                            \
        va_list more;                                                       \
        va_start(more, flags);                                              \
        mode_t mode = va_arg(more, mode_t);                                 \
        va_end(more);                                                       \
        return opened(REAL(name)(path, flags, mode), path);                 \
    }
OPEN(open)
OPEN(open64)

int close(int fd) {
    if (fd >= 0 && fd < MOST_FILES) file_of[fd] = 0;
    return REAL(close)(fd);
}

ssize_t write(int fd, const void *bytes, size_t n) {
    int f = file(fd);
    if (f < 0) return REAL(write)(fd, bytes, n);
    pthread_mutex_lock(&order);
    off64_t at = lseek64(fd, 0, SEEK_CUR);
    ssize_t done = fails(f) ? -1 : REAL(write)(fd, bytes, n);
    if (done > 0) put(f == 3 ? 'A' : 'W', f, at, done, bytes);
    pthread_mutex_unlock(&order);
    return done;
}

#define PWRITE(name, offset_t)                                              \
    ssize_t name(int fd, const void *bytes, size_t n, offset_t at) {        \
        int f = file(fd);                                                   \
        if (f < 0) return REAL(name)(fd, bytes, n, at);                     \
        pthread_mutex_lock(&order);                                         \
        ssize_t done = fails(f) ? -1 : REAL(name)(fd, bytes, n, at);        \
        if (done > 0) put('W', f, at, done, bytes);                         \
        pthread_mutex_unlock(&order);                                       \
        return done;                                                        \
    }
PWRITE(pwrite, off_t)
PWRITE(pwrite64, off64_t)

#define TRUNCATE(name, offset_t)                                            \
    int name(int fd, offset_t length) {                                     \
        int f = file(fd);                                                   \
        if (f < 0) return REAL(name)(fd, length);                           \
        pthread_mutex_lock(&order);                                         \
        int done = fails(f) ? -1 : REAL(name)(fd, length);                  \
        if (done == 0) put('T', f, length, 0, NULL);                        \
        pthread_mutex_unlock(&order);                                       \
        return done;                                                        \
    }
TRUNCATE(ftruncate, off_t)
TRUNCATE(ftruncate64, off64_t)

#define SYNC(name)                                                          \
    int name(int fd) {                                                      \
        int f = file(fd);                                                   \
        if (f < 0) return REAL(name)(fd);                                   \
        pthread_mutex_lock(&order);                                         \
        int done = fails(f) ? -1 : 0;                                       \
        if (getenv("SYNC_TAKES")) usleep((unsigned)atoi(getenv("SYNC_TAKES"))); \
        if (done == 0) put('S', f, 0, 0, NULL); /* the record is the disk */ \
        pthread_mutex_unlock(&order);                                       \
        return done;                                                        \
    }
SYNC(fsync)
SYNC(fdatasync)

int unlink(const char *path) {
    int f = which(path);
    if (f < 0 || f > 2) return REAL(unlink)(path);
    pthread_mutex_lock(&order);
    int done = REAL(unlink)(path);
    if (done == 0) put('U', f, 0, 0, NULL);
    pthread_mutex_unlock(&order);
    return done;
}
