/* disk: everything that can fail under a project, one after the other: our own allocations (and
 * those of SQLite and jansson), writes, syncs, names, steps of SQL; and a power cut, after which
 * nothing can be done any more and what was not synced is gone.
 *
 * A layer lies between SQLite and the system (sqlite.org/vfs.html); write, fsync, rename and link
 * of our own code and sqlite3_step are taken over by name. Included by one program only. Arm with
 * disk_arm; only the thread that arms is counted for files, all threads for allocations. */
#ifndef RELICT_TESTS_CRASH_DISK_H
#define RELICT_TESTS_CRASH_DISK_H

#include "base/mem.h"

#include "check.h"
#include "sqlite_memory.h"

#include <dlfcn.h>
#include <errno.h>
#include <jansson.h>
#include <sqlite3.h>
#include <unistd.h>

enum disk_fault {
    FAULT_NONE,
    FAULT_MEMORY, /* one allocation fails */
    FAULT_WRITE,  /* from the n-th write on the disk is full */
    FAULT_SYNC,   /* from the n-th sync on none succeeds */
    FAULT_NAME,   /* from the n-th on nothing is renamed, linked, cut short or removed */
    FAULT_STEP,   /* one step of SQL fails */
    FAULT_POWER, /* at the n-th write, sync or name the current goes: unsynced writes are dropped */
    FAULT_TEAR,  /* the same, but some of the unsynced writes did reach the disk */
    FAULT_COUNT
};
static const char *const disk_words[] = {"none", "memory", "write",     "sync",
                                         "name", "step",   "power cut", "torn cut"};

static struct {
    enum disk_fault fault;
    long left;
    int reached; /* the fault has struck */
    long asked;  /* allocations before */
} disk;

static bool disk_power(void) {
    return disk.fault == FAULT_POWER || disk.fault == FAULT_TEAR;
}

static int disk_strikes(enum disk_fault fault) {
    bool power =
        disk_power() && (fault == FAULT_WRITE || fault == FAULT_SYNC || fault == FAULT_NAME);
    if (disk.fault != fault && !power) return 0;
    if (disk.reached) return fault != FAULT_STEP; /* files stay broken, a step fails once */
    if (--disk.left > 0) return 0;
    disk.reached = 1;
    return 1;
}

static void disk_arm(enum disk_fault fault, long nth) {
    disk.fault = fault;
    disk.left = nth;
    disk.reached = 0;
    disk.asked = mem_count();
    if (fault == FAULT_MEMORY) mem_fail_nth(nth);
}

/* ---- our own files -------------------------------------------------------------------------- */

#define REAL(type, name, ...) ((type(*)(__VA_ARGS__))dlsym(RTLD_NEXT, name))

ssize_t write(int fd, const void *bytes, size_t n) {
    if (fd > 2 && disk_strikes(FAULT_WRITE)) return errno = ENOSPC, -1;
    return REAL(ssize_t, "write", int, const void *, size_t)(fd, bytes, n);
}
int fsync(int fd) {
    if (disk_strikes(FAULT_SYNC)) return errno = EIO, -1;
    return REAL(int, "fsync", int)(fd);
}
int rename(const char *from, const char *to) {
    if (disk_strikes(FAULT_NAME)) return errno = EIO, -1;
    return REAL(int, "rename", const char *, const char *)(from, to);
}
int link(const char *from, const char *to) {
    if (disk_strikes(FAULT_NAME)) return errno = EIO, -1;
    return REAL(int, "link", const char *, const char *)(from, to);
}
static _Thread_local int disk_inside; /* sqlite3_exec calls sqlite3_step: they count as one */
int sqlite3_exec(sqlite3 *db, const char *sql, int (*row)(void *, int, char **, char **), void *p,
                 char **words) {
    if (!disk_inside && disk_strikes(FAULT_STEP)) return SQLITE_IOERR;
    disk_inside++;
    int rc = REAL(int, "sqlite3_exec", sqlite3 *, const char *,
                  int (*)(void *, int, char **, char **), void *, char **)(db, sql, row, p, words);
    disk_inside--;
    return rc;
}
int sqlite3_step(sqlite3_stmt *s) {
    if (!disk_inside && disk_strikes(FAULT_STEP)) return SQLITE_IOERR;
    return REAL(int, "sqlite3_step", sqlite3_stmt *)(s);
}

/* ---- SQLite's files ------------------------------------------------------------------------- */

/* What stood where something was written since the last sync, newest first. */
struct disk_old {
    struct disk_old *next;
    sqlite3_int64 at, size; /* size: of the file before */
    int n, had;
    char bytes[];
};
struct disk_file {
    sqlite3_file base;
    sqlite3_file *under; /* lies behind this struct */
    struct disk_old *old;
};
static sqlite3_vfs *disk_real;
#define UNDER(f) (((struct disk_file *)(f))->under)

static void disk_forget(struct disk_file *f) {
    while (f->old) {
        struct disk_old *next = f->old->next;
        free(f->old);
        f->old = next;
    }
}

static void disk_remember(struct disk_file *f, sqlite3_int64 at, int n) {
    struct disk_old *o = malloc(sizeof *o + (size_t)n);
    o->at = at;
    o->n = n;
    f->under->pMethods->xFileSize(f->under, &o->size);
    o->had = at + n <= o->size ? n : at < o->size ? (int)(o->size - at) : 0;
    if (o->had) f->under->pMethods->xRead(f->under, o->bytes, o->had, at);
    o->next = f->old;
    f->old = o;
}

/* The current is gone: every write since the last sync is undone, newest first; of a torn cut about
 * half of them, and where the file had not reached, zeros stand. */
static void disk_drop(struct disk_file *f) {
    static unsigned long coin = 1;
    for (struct disk_old *o = f->old; o; o = o->next) {
        coin = coin * 6364136223846793005ul + 1442695040888963407ul; /* Knuth 2, MMIX */
        if (disk.fault == FAULT_TEAR && coin >> 63) continue;
        if (o->had) f->under->pMethods->xWrite(f->under, o->bytes, o->had, o->at);
        if (disk.fault == FAULT_POWER)
            f->under->pMethods->xTruncate(f->under, o->size);
        else if (o->n > o->had) {
            char *zeros = calloc(1, (size_t)(o->n - o->had));
            f->under->pMethods->xWrite(f->under, zeros, o->n - o->had, o->at + o->had);
            free(zeros);
        }
    }
}

static int disk_close(sqlite3_file *file) {
    struct disk_file *f = (struct disk_file *)file;
    if (f->under->pMethods && disk_power() && disk.reached) disk_drop(f);
    disk_forget(f);
    return f->under->pMethods ? f->under->pMethods->xClose(f->under) : SQLITE_OK;
}
static int disk_read(sqlite3_file *f, void *p, int n, sqlite3_int64 at) {
    return UNDER(f)->pMethods->xRead(UNDER(f), p, n, at);
}
static int disk_write(sqlite3_file *f, const void *p, int n, sqlite3_int64 at) {
    if (disk_strikes(FAULT_WRITE)) return SQLITE_FULL;
    if (disk_power()) disk_remember((struct disk_file *)f, at, n);
    return UNDER(f)->pMethods->xWrite(UNDER(f), p, n, at);
}
static int disk_truncate(sqlite3_file *f, sqlite3_int64 n) {
    if (disk_strikes(FAULT_NAME)) return SQLITE_IOERR_TRUNCATE;
    if (disk_power()) {
        sqlite3_int64 size = 0;
        UNDER(f)->pMethods->xFileSize(UNDER(f), &size);
        if (size > n) disk_remember((struct disk_file *)f, n, (int)(size - n));
    }
    return UNDER(f)->pMethods->xTruncate(UNDER(f), n);
}
static int disk_sync(sqlite3_file *f, int flags) {
    if (disk_strikes(FAULT_SYNC)) return SQLITE_IOERR_FSYNC;
    disk_forget((struct disk_file *)f);
    return UNDER(f)->pMethods->xSync(UNDER(f), flags);
}
static int disk_size(sqlite3_file *f, sqlite3_int64 *n) {
    return UNDER(f)->pMethods->xFileSize(UNDER(f), n);
}
static int disk_lock(sqlite3_file *f, int l) {
    return UNDER(f)->pMethods->xLock(UNDER(f), l);
}
static int disk_unlock(sqlite3_file *f, int l) {
    return UNDER(f)->pMethods->xUnlock(UNDER(f), l);
}
static int disk_reserved(sqlite3_file *f, int *out) {
    return UNDER(f)->pMethods->xCheckReservedLock(UNDER(f), out);
}
static int disk_control(sqlite3_file *f, int op, void *p) {
    return UNDER(f)->pMethods->xFileControl(UNDER(f), op, p);
}
static int disk_sector(sqlite3_file *f) {
    return UNDER(f)->pMethods->xSectorSize(UNDER(f));
}
static int disk_device(sqlite3_file *f) {
    return UNDER(f)->pMethods->xDeviceCharacteristics(UNDER(f));
}
static const sqlite3_io_methods disk_methods = {
    1,         disk_close,  disk_read,     disk_write,   disk_truncate, disk_sync,  disk_size,
    disk_lock, disk_unlock, disk_reserved, disk_control, disk_sector,   disk_device};

static int disk_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *f, int flags, int *out) {
    (void)vfs;
    struct disk_file *t = (struct disk_file *)f;
    t->under = (sqlite3_file *)(t + 1);
    t->old = NULL;
    int rc = disk_real->xOpen(disk_real, name, t->under, flags, out);
    f->pMethods = rc == SQLITE_OK ? &disk_methods : NULL;
    return rc;
}
static int disk_delete(sqlite3_vfs *vfs, const char *name, int sync) {
    (void)vfs;
    if (disk_strikes(FAULT_NAME)) return SQLITE_IOERR_DELETE;
    return disk_real->xDelete(disk_real, name, sync);
}

/* ---- memory --------------------------------------------------------------------------------- */

static void *disk_sq_malloc(int n) {
    size_t *p = mem_alloc(1, (size_t)n + 16);
    if (!p) return NULL;
    *p = (size_t)n;
    return p + 2;
}
static void disk_sq_free(void *p) {
    if (p) mem_free((size_t *)p - 2);
}
static void *disk_sq_realloc(void *old, int n) {
    size_t *p = mem_resize((size_t *)old - 2, 1, (size_t)n + 16);
    if (!p) return NULL;
    *p = (size_t)n;
    return p + 2;
}

/* Call first in main. */
static void disk_begin(void) {
    sq_memory_from(disk_sq_malloc, disk_sq_free, disk_sq_realloc);
    sqlite3_config(SQLITE_CONFIG_LOOKASIDE, 0, 0); /* each piece of memory comes through here */
    json_set_alloc_funcs(mem_bytes, mem_free);
    sqlite3_initialize();
    static sqlite3_vfs thin;
    disk_real = sqlite3_vfs_find(NULL);
    thin = *disk_real;
    thin.zName = "disk";
    thin.szOsFile = (int)sizeof(struct disk_file) + disk_real->szOsFile;
    thin.xOpen = disk_open;
    thin.xDelete = disk_delete;
    sqlite3_vfs_register(&thin, 1);
}

#endif
