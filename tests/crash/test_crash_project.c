/* The project file under a killed process, memory that ends, and a disk that refuses.
 *
 * What was acknowledged is there afterwards; what was not is either whole or not there at all.
 * Process death is tried for real; a failing disk through a layer between SQLite and the system
 * (sqlite.org/vfs.html). Power loss is not tried: that needs a block device that drops writes. */
#include "base/file.h"
#include "base/mem.h"
#include "check.h"
#include "record/folder.h"
#include "record/import.h"
#include "remains/find.h"
#include "sqlite_memory.h"

#include <jansson.h>
#include <signal.h>
#include <sqlite3.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static char folder[] = "/tmp/relict-crash-XXXXXX";
static char path[100];
static const struct kind *const kinds[] = {&piece_kind, &measure_kind, &mark_kind_kind};
static const struct record_options options = {.kinds = kinds, .n_kinds = 3};
static const struct record_start start = {.title = "T", .who = "recorder", .when = "2026-05-01"};

/* ---- a disk that refuses ----------------------------------------------------------------------
 */

static sqlite3_vfs *real;
static long io_left = -1; /* calls that still succeed; -1: all */
static int io_code;       /* what then fails with */

struct thin_file {
    sqlite3_file base;
    sqlite3_file *under; /* lies behind this struct */
};

static int io_fails(void) {
    if (io_left < 0) return 0;
    if (io_left > 0) {
        io_left--;
        return 0;
    }
    return 1;
}
#define UNDER(f) (((struct thin_file *)(f))->under)
static int thin_close(sqlite3_file *f) {
    return UNDER(f)->pMethods ? UNDER(f)->pMethods->xClose(UNDER(f)) : SQLITE_OK;
}
static int thin_read(sqlite3_file *f, void *p, int n, sqlite3_int64 at) {
    return UNDER(f)->pMethods->xRead(UNDER(f), p, n, at);
}
static int thin_write(sqlite3_file *f, const void *p, int n, sqlite3_int64 at) {
    if (io_fails()) return io_code;
    return UNDER(f)->pMethods->xWrite(UNDER(f), p, n, at);
}
static int thin_truncate(sqlite3_file *f, sqlite3_int64 n) {
    if (io_fails()) return SQLITE_IOERR_TRUNCATE;
    return UNDER(f)->pMethods->xTruncate(UNDER(f), n);
}
static int thin_sync(sqlite3_file *f, int flags) {
    if (io_fails()) return SQLITE_IOERR_FSYNC;
    return UNDER(f)->pMethods->xSync(UNDER(f), flags);
}
static int thin_size(sqlite3_file *f, sqlite3_int64 *n) {
    return UNDER(f)->pMethods->xFileSize(UNDER(f), n);
}
static int thin_lock(sqlite3_file *f, int l) {
    return UNDER(f)->pMethods->xLock(UNDER(f), l);
}
static int thin_unlock(sqlite3_file *f, int l) {
    return UNDER(f)->pMethods->xUnlock(UNDER(f), l);
}
static int thin_reserved(sqlite3_file *f, int *out) {
    return UNDER(f)->pMethods->xCheckReservedLock(UNDER(f), out);
}
static int thin_control(sqlite3_file *f, int op, void *p) {
    return UNDER(f)->pMethods->xFileControl(UNDER(f), op, p);
}
static int thin_sector(sqlite3_file *f) {
    return UNDER(f)->pMethods->xSectorSize(UNDER(f));
}
static int thin_device(sqlite3_file *f) {
    return UNDER(f)->pMethods->xDeviceCharacteristics(UNDER(f));
}
static const sqlite3_io_methods thin_methods = {
    1,         thin_close,  thin_read,     thin_write,   thin_truncate, thin_sync,  thin_size,
    thin_lock, thin_unlock, thin_reserved, thin_control, thin_sector,   thin_device};

static int thin_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *f, int flags, int *out) {
    (void)vfs;
    struct thin_file *t = (struct thin_file *)f;
    t->under = (sqlite3_file *)(t + 1);
    int rc = real->xOpen(real, name, t->under, flags, out);
    f->pMethods = rc == SQLITE_OK ? &thin_methods : NULL;
    return rc;
}
static int thin_delete(sqlite3_vfs *vfs, const char *name, int sync) {
    (void)vfs;
    if (io_fails()) return SQLITE_IOERR_DELETE;
    return real->xDelete(real, name, sync);
}

static void lay_between(void) {
    static sqlite3_vfs thin;
    real = sqlite3_vfs_find(NULL);
    thin = *real;
    thin.zName = "thin";
    thin.szOsFile = (int)sizeof(struct thin_file) + real->szOsFile;
    thin.xOpen = thin_open;
    thin.xDelete = thin_delete;
    sqlite3_vfs_register(&thin, 1);
}

/* ---- memory that ends, for the libraries as well
 * ------------------------------------------------- */

static void *sq_malloc(int n) {
    size_t *p = mem_alloc(1, (size_t)n + 16);
    if (!p) return NULL;
    *p = (size_t)n;
    return p + 2;
}
static void sq_free(void *p) {
    if (p) mem_free((size_t *)p - 2);
}
static void *sq_realloc(void *old, int n) {
    size_t *p = mem_resize((size_t *)old - 2, 1, (size_t)n + 16);
    if (!p) return NULL;
    *p = (size_t)n;
    return p + 2;
}
static void share_memory(void) {
    assert_int_equal(sq_memory_from(sq_malloc, sq_free, sq_realloc), SQLITE_OK);
    /* No look-aside: each piece of memory comes through here. */
    sqlite3_config(SQLITE_CONFIG_LOOKASIDE, 0, 0);
    json_set_alloc_funcs(mem_bytes, mem_free);
}

/* ---- the work that is interrupted
 * ----------------------------------------------------------------- */

static int begin_file(void) {
    struct record *r;
    return record_new(&r, path, &start, &options, NULL) || record_close(r, NULL);
}

static int begin(void **context) {
    (void)context;
    strcpy(folder + strlen(folder) - 6, "XXXXXX");
    if (!mkdtemp(folder)) return -1;
    snprintf(path, sizeof path, "%s/p.relict", folder);
    return begin_file();
}

static int end(void **context) {
    (void)context;
    char command[200];
    snprintf(command, sizeof command, "rm -rf %s", folder);
    return system(command);
}

enum { TOGETHER = 5 }; /* pieces in one change: all or none */

static int one_change(struct record *r, long number, struct error *err) {
    int rc = record_change_begin(r, "recorder", "2026-05-01", "", err);
    for (int k = 0; k < TOGETHER && !rc; k++) {
        char id[32];
        snprintf(id, sizeof id, "P%ld-%d", number, k);
        json_t *j = json_pack("{s:s}", "note", "some words that take a little room in the file");
        rc = j ? record_put(r, "piece", id, j, NULL, err) : fail_memory(err);
        json_decref(j);
    }
    if (!rc) return record_change_commit(r, NULL, err);
    record_change_rollback(r);
    return rc;
}

static int count(const struct record_entry *e, void *context, struct error *err) {
    (void)e, (void)err;
    ++*(long *)context;
    return 0;
}

/* Opens the file afresh, as a stranger's, and looks whether all is well. Returns the pieces. */
static long inspect(void) {
    struct record *r;
    struct error err = {0};
    struct record_checked c;
    long n = 0;
    check_ok(record_open(&r, path, &options, &err), &err);
    check_ok(record_verify(&c, r, NULL, NULL, &err), &err);
    assert_int_equal(c.faults, 0);
    check_ok(record_each(r, "piece", 0, count, &n, &err), &err);
    record_close(r, NULL);
    assert_int_equal(n % TOGETHER, 0);
    return n / TOGETHER;
}

/* ---- killed -------------------------------------------------------------------------------------
 */

/* Works until it is killed; tells each commit through the pipe after it was acknowledged. */
static void work(int pipe_end, long number) {
    struct record *r;
    if (record_open(&r, path, &options, NULL)) _exit(1);
    long ready = -1;
    if (write(pipe_end, &ready, sizeof ready) != sizeof ready) _exit(3);
    for (;; number++) {
        if (one_change(r, number, NULL)) _exit(2);
        if (write(pipe_end, &number, sizeof number) != sizeof number) _exit(3);
    }
}

enum { ONE_FILE = 200 }; /* kills on one file: all of it is verified after each */

static void killed_at_any_moment(void **context) {
    (void)context;
    const char *asked = getenv("RELICT_KILLS");
    long kills = asked ? strtol(asked, NULL, 10) : 8, acknowledged = 0, before = 0;
    unsigned long x = 42;
    for (long i = 0; i < kills; i++) {
        if (i > 0 && i % ONE_FILE == 0) {
            assert_int_equal(unlink(path), 0);
            assert_int_equal(begin_file(), 0);
            before += acknowledged;
            acknowledged = 0;
        }
        int ends[2];
        assert_int_equal(pipe(ends), 0);
        pid_t child = fork();
        assert_true(child >= 0);
        if (child == 0) {
            close(ends[0]);
            work(ends[1], inspect());
        }
        close(ends[1]);
        x = x * 6364136223846793005ul + 1442695040888963407ul; /* Knuth 2, MMIX */
        long number;
        assert_int_equal(read(ends[0], &number, sizeof number), sizeof number); /* it begins */
        nanosleep(&(struct timespec){0, (long)((x >> 33) % 40000000)}, NULL);
        kill(child, SIGKILL);
        while (read(ends[0], &number, sizeof number) == sizeof number)
            acknowledged = number + 1;
        close(ends[0]);
        int status;
        waitpid(child, &status, 0);
        assert_true(WIFSIGNALED(status));
        long there = inspect();
        if (there < acknowledged || there > acknowledged + 1)
            fail_msg("%ld acknowledged, %ld there", acknowledged, there);
        acknowledged = there;
    }
    check_note("killed %ld times while writing: %ld changes acknowledged, none lost", kills,
               before + acknowledged);
}

/* ---- refused by the disk
 * --------------------------------------------------------------------------- */

static void refused_at_the_nth_write(void **context) {
    (void)context;
    static const int codes[] = {SQLITE_FULL, SQLITE_IOERR_WRITE};
    for (size_t c = 0; c < 2; c++) {
        long done = inspect(), tries = 0;
        for (long n = 0;; n++, tries++) {
            struct record *r;
            struct error err = {0};
            check_ok(record_open(&r, path, &options, &err), &err);
            io_code = codes[c];
            io_left = n;
            int rc = one_change(r, done, &err);
            io_left = -1;
            record_close(r, NULL);
            long there = inspect();
            if (rc == 0) {
                assert_int_equal(there, done + 1);
                break;
            }
            assert_true(rc == ERR_FILE || rc == ERR_DAMAGED);
            assert_true(*err.remedy != 0);
            if (c == 0 && rc == ERR_FILE && n < 2) assert_non_null(strstr(err.message, "disk"));
            /* told as failed: then it is not there, or whole (the last sync or delete failed) */
            assert_true(there == done || there == done + 1);
            if (there == done + 1) done = there;
        }
        assert_true(tries >= 4);
    }
}

/* ---- memory gone
 * ------------------------------------------------------------------------------------ */

/* Fails the n-th allocation for n = 1, 2, 3 ...; later ones in growing steps to stay quick. */
static long next(long n) {
    return n < 60 ? n + 1 : n + 1 + n / 24;
}

static void memory_ends_in_open_and_put(void **context) {
    (void)context;
    long done = 0, tries = 0;
    int rc = 1;
    for (long n = 1; rc; n = next(n), tries++) {
        struct record *r = NULL;
        struct error err = {0};
        mem_fail_nth(n);
        rc = record_open(&r, path, &options, &err);
        if (!rc) rc = one_change(r, done, &err);
        mem_fail_nth(0);
        record_close(r, NULL);
        if (rc) assert_true(*err.message != 0);
        long there = inspect();
        assert_true(there == done || (there == done + 1 && rc == 0));
    }
    assert_true(tries > 60);
}

static void memory_ends_in_import_and_folder(void **context) {
    (void)context;
    static const char list[] =
        "id,part,material,state,length_mm,end_1,note\n"
        "K1,lath,hazel (split),wet in lab,100,chamfered 9 mm,joins K2\nK2,lath,hazel,cooked,9,,\n";
    struct import_list what = {.name = "l.csv",
                               .bytes = list,
                               .n = sizeof list - 1,
                               .who = "recorder",
                               .when = "2026-05-01"};
    struct record *r;
    struct error err = {0};
    check_ok(record_open(&r, path, &options, &err), &err);
    long before = record_revision(r);
    int rc = 1;
    for (long n = 1; rc; n = next(n)) {
        struct arena *a = arena_new();
        struct import_report out;
        mem_fail_nth(n);
        rc = import_finds(&out, r, &what, a, &err);
        mem_fail_nth(0);
        arena_free(a);
        if (rc) assert_int_equal(record_revision(r), before);
    }
    rc = 1;
    char open_form[120];
    snprintf(open_form, sizeof open_form, "%s/open", folder);
    for (long n = 1; rc; n = next(n)) {
        struct record_folder_made made;
        mem_fail_nth(n);
        rc = record_folder_write(&made, r, open_form, true, "2026-05-01", &err);
        mem_fail_nth(0);
        if (rc == 0) break;
        char command[200];
        snprintf(command, sizeof command, "rm -rf %s", open_form);
        assert_int_equal(system(command), 0);
    }
    char second[120];
    snprintf(second, sizeof second, "%s/q.relict", folder);
    rc = 1;
    for (long n = 1; rc; n = next(n)) {
        struct record *q;
        struct record_folder_taken taken;
        mem_fail_nth(n);
        rc = record_folder_read(&q, &taken, open_form, second, &start, &options, &err);
        mem_fail_nth(0);
        if (rc) {
            assert_null(q);
            assert_false(file_exists(second));
        } else {
            char one[65], two[65];
            check_ok(record_digest(one, r, &err), &err);
            check_ok(record_digest(two, q, &err), &err);

            assert_string_equal(one, two);
            record_close(q, NULL);
        }
    }
    record_close(r, NULL);
}

int main(void) {
    share_memory();
    sqlite3_initialize();
    lay_between();
#define CASE(f) cmocka_unit_test_setup_teardown(f, begin, end)
    const struct CMUnitTest tests[] = {
        CASE(killed_at_any_moment),
        CASE(refused_at_the_nth_write),
        CASE(memory_ends_in_open_and_put),
        CASE(memory_ends_in_import_and_folder),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
