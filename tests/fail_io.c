/* Makes one call fail with an error of the disk: preloaded, for tests/kill_and_full_disk.
   FAIL_CALL names it (write, fsync, fchmod, link), FAIL_AT says which of them, counted from one, and FAIL_FULL
   that the disk is full. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <unistd.h>

static int fails(const char *call) {
    static int seen;
    const char *name = getenv("FAIL_CALL"), *at = getenv("FAIL_AT");
    if (!name || !at || strcmp(name, call) || ++seen != atoi(at)) return 0;
    errno = getenv("FAIL_FULL") ? ENOSPC : EIO;
    return 1;
}

ssize_t write(int fd, const void *from, size_t count) {
    static ssize_t (*real)(int, const void *, size_t);
    if (!real) real = dlsym(RTLD_NEXT, "write");
    /* The streams are no files. */
    return fd > 2 && fails("write") ? -1 : real(fd, from, count);
}

int fsync(int fd) {
    static int (*real)(int);
    if (!real) real = dlsym(RTLD_NEXT, "fsync");
    return fails("fsync") ? -1 : real(fd);
}

int fchmod(int fd, mode_t mode) {
    static int (*real)(int, mode_t);
    if (!real) real = dlsym(RTLD_NEXT, "fchmod");
    return fails("fchmod") ? -1 : real(fd, mode);
}

int linkat(int from, const char *old, int to, const char *new, int flags) {
    static int (*real)(int, const char *, int, const char *, int);
    if (!real) real = dlsym(RTLD_NEXT, "linkat");
    return fails("link") ? -1 : real(from, old, to, new, flags);
}
