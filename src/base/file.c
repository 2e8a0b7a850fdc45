#include "base/file.h"

#include "base/mem.h"

#include <ctype.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { MOST_BYTES = 200000000 };

int file_fail(const char *verb, const char *path, struct error *err) {
    int reason = errno;
    const char *remedy = "Look whether the disk is in order, and try again.";
    enum error_code code = ERR_FILE;
    switch (reason) {
    case ENOENT:
        code = strcmp(verb, "read") == 0 ? ERR_MISSING : ERR_FILE;
        remedy = "Look at the name and the folder; is it spelled as it stands there?";
        break;
    case EACCES:
    case EPERM:
    case EROFS:
        remedy = "Choose a folder you may write to, or ask for the right to use this one.";
        break;
    case ENOSPC:
    case EDQUOT:
        remedy = "The disk is full: make room, or choose another disk. Nothing was changed.";
        break;
    case EEXIST:
        remedy = "Choose another name; nothing is overwritten without being asked.";
        break;
    case EISDIR:
        remedy = "This is a folder; name the file in it.";
        break;
    default:
        break;
    }
    error_place(err, path, 0, NULL, NULL);
    return fail(err, code, remedy, "Cannot %s \"%.200s\": %s.", verb, path, strerror(reason));
}

bool file_exists(const char *path) {
    struct stat st;
    return lstat(path, &st) == 0;
}

bool file_is_folder(const char *path) {
    struct stat st;
    return stat(path, &st) == 0 && S_ISDIR(st.st_mode);
}

const char *file_name(const char *path) {
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

char *file_parent(const char *path, struct arena *arena) {
    const char *slash = strrchr(path, '/');
    if (!slash) return arena_strdup(arena, ".");
    return arena_copy(arena, path, slash == path ? 1 : (size_t)(slash - path));
}

char *file_safe_name(const char *name, struct arena *arena) {
    char *copy = arena_strdup(arena, *name ? name : "_");
    if (!copy) return NULL;
    for (char *c = copy; *c; c++)
        if (!isalnum((unsigned char)*c) && !strchr("-_.", *c)) *c = '_';
    if (*copy == '.') *copy = '_'; /* no hidden file, no way upward */
    if (strlen(copy) > 120) copy[120] = 0;
    return copy;
}

static int read_all(int fd, char *to, size_t n, size_t *got) {
    *got = 0;
    while (*got < n) {
        ssize_t k = read(fd, to + *got, n - *got);
        if (k < 0 && errno == EINTR) continue;
        if (k < 0) return -1;
        if (k == 0) break;
        *got += (size_t)k;
    }
    return 0;
}

int file_read(const char **out, size_t *n, const char *path, size_t most, struct arena *arena,
              struct error *err) {
    *out = NULL;
    *n = 0;
    if (most == 0) most = MOST_BYTES;
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    if (fd < 0) return file_fail("read", path, err);
    struct stat st;
    int rc = fstat(fd, &st) ? file_fail("read", path, err) : 0;
    if (!rc && !S_ISREG(st.st_mode)) {
        error_place(err, path, 0, NULL, NULL);
        rc = fail(err, ERR_FILE, "Name the file itself.", "\"%.200s\" is not a plain file.", path);
    } else if (!rc && (size_t)st.st_size > most) {
        error_place(err, path, 0, NULL, NULL);
        rc = fail(err, ERR_RANGE, "Split it into parts, or leave out what is not needed.",
                  "\"%.200s\" holds %.1f MB; at most %.1f MB are taken.", path,
                  (double)st.st_size / 1e6, (double)most / 1e6);
    }
    char *bytes = rc ? NULL : arena_alloc(arena, (size_t)st.st_size + 1, 1);
    if (!rc && !bytes) rc = fail_memory(err);
    if (!rc && read_all(fd, bytes, (size_t)st.st_size, n)) rc = file_fail("read", path, err);
    close(fd);
    if (!rc) *out = bytes;
    return rc;
}

static int write_all(int fd, const char *from, size_t n) {
    while (n) {
        ssize_t k = write(fd, from, n);
        if (k < 0 && errno == EINTR) continue;
        if (k < 0) return -1;
        from += k;
        n -= (size_t)k;
    }
    return 0;
}

int file_folder_sync(const char *path, struct error *err) {
    int fd = open(path, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd < 0) return file_fail("open", path, err);
    /* Some network file systems know no fsync of a folder; that is no reason to refuse the work. */
    int rc = fsync(fd) && errno != EINVAL && errno != ENOTSUP ? file_fail("save", path, err) : 0;
    close(fd);
    return rc;
}

/* Gives the finished temporary file its name: link() refuses when the name is taken. */
static int take_name(const char *temporary, const char *path, bool replace, struct error *err) {
    if (replace) return rename(temporary, path) ? file_fail("write", path, err) : 0;
    if (link(temporary, path) == 0) {
        unlink(temporary);
        return 0;
    }
    /* A file system without links: look first, then rename. */
    if (errno == EEXIST || file_exists(path)) {
        errno = EEXIST;
        return file_fail("write", path, err);
    }
    return rename(temporary, path) ? file_fail("write", path, err) : 0;
}

int file_write(const char *path, const void *bytes, size_t n, bool replace, struct error *err) {
    if (!replace && file_exists(path)) {
        errno = EEXIST;
        return file_fail("write", path, err);
    }
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    char *folder = file_parent(path, arena);
    char *temporary = arena_printf(arena, "%s.part-%ld", path, (long)getpid());
    if (!folder || !temporary) {
        arena_free(arena);
        return fail_memory(err);
    }
    int fd = open(temporary, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666);
    int rc = fd < 0 ? file_fail("write", path, err) : 0;
    if (!rc && write_all(fd, bytes, n)) rc = file_fail("write", path, err);
    if (!rc && fsync(fd)) rc = file_fail("write", path, err);
    if (fd >= 0 && close(fd) && !rc) rc = file_fail("write", path, err);
    if (!rc) rc = take_name(temporary, path, replace, err);
    if (rc && fd >= 0) unlink(temporary);
    if (!rc) rc = file_folder_sync(folder, err);
    arena_free(arena);
    return rc;
}

int file_folder(const char *path, struct error *err) {
    char *copy = mem_strdup(path);
    if (!copy) return fail_memory(err);
    int rc = 0;
    for (char *c = copy + 1; *copy && !rc; c++) {
        if (*c != '/' && *c) continue;
        bool last = !*c;
        *c = 0;
        if (mkdir(copy, 0777) && errno != EEXIST) rc = file_fail("make the folder", copy, err);
        if (last) break;
        *c = '/';
    }
    if (!rc && !file_is_folder(path)) {
        errno = EEXIST;
        rc = file_fail("make the folder", path, err);
    }
    mem_free(copy);
    return rc;
}
