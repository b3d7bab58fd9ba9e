/* The names that are defined here must be the plain ones: */
#undef _FORTIFY_SOURCE
#undef _FILE_OFFSET_BITS
#include "lossy_disk.h"
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

#define SECTOR     512
#define FILES_MOST 4096 /* numbers of open files */

/* One change not synced: bytes that were written, or (bytes NULL) a new length. */
struct change {
  guint64 at;
  GBytes *bytes;
};

/* A file, whatever its names. */
struct disk_file {
  GByteArray *kept;
  GArray *since; /* struct change */
};

enum naming { MADE, MOVED, GONE };
/* A change of a name, not synced. */
struct renaming {
  enum naming how;
  char *name, *to;
  struct disk_file *file; /* MADE */
};

static struct {
  GMutex mutex;
  char *folder;           /* NULL: nothing is watched */
  GPtrArray *all;         /* struct disk_file, owned */
  GHashTable *now, *kept; /* name -> struct disk_file: as programs see it, and on the disk */
  GArray *renamed;        /* struct renaming */
  struct disk_file *files[FILES_MOST]; /* by number; NULL: not watched */
  gboolean folders[FILES_MOST];        /* by number: the watched folder itself */
  enum disk_fault fault;
  guint at, steps;
  gboolean happened, lies;
  void (*farewell)(gpointer user);
  gpointer user;
} disk;

static void clear_change(gpointer one) {
  GBytes *bytes = ((struct change *)one)->bytes;
  if (bytes)
    g_bytes_unref(bytes);
}

static void clear_renaming(gpointer one) {
  g_free(((struct renaming *)one)->name);
  g_free(((struct renaming *)one)->to);
}

static void file_free(gpointer user) {
  struct disk_file *f = user;
  g_byte_array_unref(f->kept);
  g_array_unref(f->since);
  g_free(f);
}

static struct disk_file *file_new(void) {
  struct disk_file *f = g_new0(struct disk_file, 1);
  f->kept = g_byte_array_new();
  f->since = g_array_new(FALSE, FALSE, sizeof(struct change));
  g_array_set_clear_func(f->since, clear_change);
  g_ptr_array_add(disk.all, f);
  return f;
}

/* ---- what became of a change ---- */

static void set_length(GByteArray *bytes, guint64 length, GRand *rubbish) {
  guint before = bytes->len;
  g_byte_array_set_size(bytes, (guint)length);
  for (guint i = before; i < bytes->len; i++)
    bytes->data[i] = rubbish ? (guint8)g_rand_int(rubbish) : 0;
}

static void put(GByteArray *into, guint64 at, const guint8 *data, gsize size, GRand *rubbish) {
  if (into->len < at + size)
    set_length(into, at + size, rubbish);
  memcpy(into->data + at, data, size);
}

static void keep(struct disk_file *f) {
  for (guint i = 0; i < f->since->len; i++) {
    const struct change *c = &g_array_index(f->since, struct change, i);
    gsize size = 0;
    const guint8 *data = c->bytes ? g_bytes_get_data(c->bytes, &size) : NULL;
    if (data)
      put(f->kept, c->at, data, size, NULL);
    else if (!c->bytes)
      set_length(f->kept, c->at, NULL);
  }
  g_array_set_size(f->since, 0);
}

static void apply(GHashTable *names, const struct renaming *r) {
  struct disk_file *file = r->how == MADE ? r->file : g_hash_table_lookup(names, r->name);
  if (r->how == MADE)
    g_hash_table_insert(names, g_strdup(r->name), file);
  if (r->how != MADE)
    g_hash_table_remove(names, r->name);
  if (r->how == MOVED && file)
    g_hash_table_insert(names, g_strdup(r->to), file);
}

static void rename_now(enum naming how, const char *name, const char *to, struct disk_file *file) {
  struct renaming r = {how, g_strdup(name), g_strdup(to), file};
  apply(disk.now, &r);
  g_array_append_val(disk.renamed, r);
}

static void keep_names(void) {
  for (guint i = 0; i < disk.renamed->len; i++)
    apply(disk.kept, &g_array_index(disk.renamed, struct renaming, i));
  g_array_set_size(disk.renamed, 0);
}

/* ---- the test's side ---- */

void disk_forget(void) {
  g_mutex_lock(&disk.mutex);
  if (disk.folder) {
    g_clear_pointer(&disk.folder, g_free);
    g_hash_table_unref(disk.now);
    g_hash_table_unref(disk.kept);
    g_array_unref(disk.renamed);
    g_ptr_array_unref(disk.all);
    memset(disk.files, 0, sizeof disk.files);
    memset(disk.folders, 0, sizeof disk.folders);
  }
  disk.fault = DISK_SOUND;
  disk.happened = disk.lies = FALSE;
  disk.farewell = NULL;
  g_mutex_unlock(&disk.mutex);
}

static void take_in(const char *folder) {
  g_autoptr(GDir) dir = g_dir_open(folder, 0, NULL);
  for (const char *name; dir && (name = g_dir_read_name(dir));) {
    g_autofree char *path = g_build_filename(folder, name, NULL), *data = NULL;
    gsize size;
    if (g_file_get_contents(path, &data, &size, NULL)) {
      struct disk_file *f = file_new();
      g_byte_array_append(f->kept, (const guint8 *)data, (guint)size);
      g_hash_table_insert(disk.now, g_strdup(name), f);
      g_hash_table_insert(disk.kept, g_strdup(name), f);
    }
  }
}

void disk_watch(const char *folder) {
  disk_forget();
  disk.all = g_ptr_array_new_with_free_func(file_free);
  disk.now = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  disk.kept = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  disk.renamed = g_array_new(FALSE, FALSE, sizeof(struct renaming));
  g_array_set_clear_func(disk.renamed, clear_renaming);
  take_in(folder);
  g_mutex_lock(&disk.mutex);
  disk.folder = g_strdup(folder);
  disk.steps = 0;
  g_mutex_unlock(&disk.mutex);
}

void disk_set(enum disk_fault fault, guint at) {
  g_mutex_lock(&disk.mutex);
  disk.fault = fault;
  disk.at = at;
  disk.steps = 0;
  disk.happened = FALSE;
  g_mutex_unlock(&disk.mutex);
}

void disk_set_cut(guint at, void (*farewell)(gpointer user), gpointer user) {
  disk_set(DISK_SOUND, at);
  disk.farewell = farewell;
  disk.user = user;
}

void disk_set_lying(gboolean lies) {
  disk.lies = lies;
}

guint disk_steps(void) {
  g_mutex_lock(&disk.mutex);
  guint steps = disk.steps;
  g_mutex_unlock(&disk.mutex);
  return steps;
}

gboolean disk_has_failed(void) {
  g_mutex_lock(&disk.mutex);
  gboolean is = disk.happened;
  g_mutex_unlock(&disk.mutex);
  return is;
}

/* How likely a change is there: often none, often all. */
static double share_of(GRand *random) {
  static const double shares[] = {0, 0.1, 0.5, 0.5, 0.9, 1};
  return shares[g_rand_int_range(random, 0, G_N_ELEMENTS(shares))];
}

static void put_sectors(GByteArray *into, const struct change *c, double share, GRand *random,
                        GRand *rubbish) {
  gsize size;
  const guint8 *data = g_bytes_get_data(c->bytes, &size);
  for (gsize from = 0; from < size;) {
    gsize to = MIN(size, (gsize)(((c->at + from) / SECTOR + 1) * SECTOR - c->at));
    if (g_rand_double(random) < share)
      put(into, c->at + from, data + from, to - from, rubbish);
    from = to;
  }
}

static GByteArray *survivor(const struct disk_file *f, GRand *random) {
  GByteArray *left = g_byte_array_new();
  g_byte_array_append(left, f->kept->data, f->kept->len);
  double share = share_of(random);
  GRand *rubbish = g_rand_boolean(random) ? random : NULL;
  for (guint i = 0; i < f->since->len; i++) {
    const struct change *c = &g_array_index(f->since, struct change, i);
    if (c->bytes)
      put_sectors(left, c, share, random, rubbish);
    else if (g_rand_double(random) < share)
      set_length(left, c->at, rubbish);
  }
  return left;
}

static void write_out(const char *path, const GByteArray *bytes) {
  int number = (int)syscall(SYS_openat, AT_FDCWD, path, O_CREAT | O_TRUNC | O_WRONLY, 0600);
  g_assert(number >= 0);
  for (guint at = 0; at < bytes->len;) {
    long done = syscall(SYS_write, number, bytes->data + at, (long)(bytes->len - at));
    g_assert(done > 0);
    at += (guint)done;
  }
  syscall(SYS_close, number);
}

/* Under the mutex, as the farewell is. */
void disk_survivors(GRand *random, const char *folder) {
  GHashTable *names = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  GHashTableIter each;
  gpointer name, file;
  g_hash_table_iter_init(&each, disk.kept);
  while (g_hash_table_iter_next(&each, &name, &file))
    g_hash_table_insert(names, g_strdup(name), file);
  guint there = (guint)g_rand_int_range(random, 0, (gint32)disk.renamed->len + 1);
  for (guint i = 0; i < there; i++)
    apply(names, &g_array_index(disk.renamed, struct renaming, i));
  g_hash_table_iter_init(&each, names);
  while (g_hash_table_iter_next(&each, &name, &file)) {
    g_autofree char *path = g_build_filename(folder, name, NULL);
    g_autoptr(GByteArray) left = survivor(file, random);
    if (!g_str_has_suffix(name, "-shm"))
      write_out(path, left);
  }
  g_hash_table_unref(names);
}

/* ---- the program's side: under the mutex ---- */

/* NULL: not directly in the watched folder. */
static const char *name_in(const char *path) {
  gsize length = disk.folder ? strlen(disk.folder) : 0;
  if (!length || strncmp(path, disk.folder, length) != 0 || path[length] != '/' ||
      strchr(path + length + 1, '/') || !path[length + 1])
    return NULL;
  return path + length + 1;
}

static gboolean is_watched(int number) {
  return number >= 0 && number < FILES_MOST && disk.files[number];
}

/* Counts; TRUE with errno: this call fails. */
static gboolean fails(gboolean takes_room) {
  if (++disk.steps != disk.at)
    return FALSE;
  if (disk.farewell)
    disk.farewell(disk.user);
  disk.happened = disk.fault != DISK_SOUND;
  errno = disk.fault == DISK_FULL && takes_room ? ENOSPC : EIO;
  return disk.happened;
}

static long raw(long number, long a, long b, long c, long d) {
  return syscall(number, a, b, c, d);
}

static int open_watched(const char *name, const char *path, int flags, mode_t mode) {
  struct disk_file *file = g_hash_table_lookup(disk.now, name);
  gboolean makes = !file && (flags & O_CREAT);
  if (makes && fails(TRUE))
    return -1;
  int number = (int)raw(SYS_openat, AT_FDCWD, (long)path, flags, mode);
  if (number < 0)
    return number;
  if (makes)
    rename_now(MADE, name, NULL, file = file_new());
  else if (file && (flags & O_TRUNC)) {
    struct change none = {0, NULL};
    g_array_append_val(file->since, none);
  }
  g_assert(number < FILES_MOST);
  disk.files[number] = file;
  return number;
}

static int open_any(const char *path, int flags, mode_t mode) {
  g_mutex_lock(&disk.mutex);
  const char *name = name_in(path);
  gboolean follows = name && !(flags & O_DIRECTORY);
  int number = follows ? open_watched(name, path, flags, mode)
                       : (int)raw(SYS_openat, AT_FDCWD, (long)path, flags, mode);
  if (number >= 0 && number < FILES_MOST)
    disk.folders[number] = disk.folder && strcmp(path, disk.folder) == 0;
  int why = errno;
  g_mutex_unlock(&disk.mutex);
  errno = why;
  return number;
}

static ssize_t write_watched(int number, const void *data, size_t size, off_t at) {
  if (at < 0) /* where the last write ended */
    at = (off_t)raw(SYS_lseek, number, 0, SEEK_CUR, 0);
  struct change one = {(guint64)at, g_bytes_new(data, size)};
  guint before = disk.files[number]->since->len;
  g_array_append_val(disk.files[number]->since, one);
  if (fails(TRUE)) { /* the power fails in the middle of it */
    g_array_set_size(disk.files[number]->since, before);
    if (disk.fault != DISK_SHORT || size < 2)
      return -1;
    size /= 2; /* half is taken, and said to be */
    one.bytes = g_bytes_new(data, size);
    g_array_append_val(disk.files[number]->since, one);
  }
  ssize_t done = raw(SYS_pwrite64, number, (long)data, (long)size, at);
  if (done >= 0)
    raw(SYS_lseek, number, at + done, SEEK_SET, 0);
  return done;
}

static ssize_t write_any(int number, const void *data, size_t size, off_t at, gboolean placed) {
  g_mutex_lock(&disk.mutex);
  ssize_t done = is_watched(number) ? write_watched(number, data, size, placed ? at : -1)
                 : placed           ? raw(SYS_pwrite64, number, (long)data, (long)size, at)
                                    : -2;
  int why = errno;
  g_mutex_unlock(&disk.mutex); /* a pipe that waits must not be waited for with it */
  errno = why;
  return done == -2 ? raw(SYS_write, number, (long)data, (long)size, 0) : done;
}

static int sync_any(int number) {
  g_mutex_lock(&disk.mutex);
  gboolean folder = number >= 0 && number < FILES_MOST && disk.folders[number];
  int done = 0, why = errno;
  if (!folder && !is_watched(number))
    done = (int)raw(SYS_fsync, number, 0, 0, 0);
  else if (fails(FALSE))
    done = -1;
  else if (folder && !disk.lies)
    keep_names();
  else if (!folder && !disk.lies)
    keep(disk.files[number]);
  why = done ? errno : why;
  g_mutex_unlock(&disk.mutex);
  errno = why;
  return done;
}

static int truncate_any(int number, off_t length) {
  g_mutex_lock(&disk.mutex);
  int done = -1;
  if (!is_watched(number) || !fails(FALSE))
    done = (int)raw(SYS_ftruncate, number, length, 0, 0);
  if (done == 0 && is_watched(number)) {
    struct change one = {(guint64)length, NULL};
    g_array_append_val(disk.files[number]->since, one);
  }
  int why = errno;
  g_mutex_unlock(&disk.mutex);
  errno = why;
  return done;
}

/* The names of the C library, and those it gives them under other settings. */
int open(const char *path, int flags, ...);
int open64(const char *path, int flags, ...);
int __open_2(const char *path, int flags);
int __open64_2(const char *path, int flags);
ssize_t pwrite64(int number, const void *data, size_t size, off64_t at);
int ftruncate64(int number, off64_t length);

#define OPENS(name)                                                                                \
  int name(const char *path, int flags, ...) {                                                     \
    va_list more;                                                                                  \
    va_start(more, flags);                                                                         \
    mode_t mode = flags & (O_CREAT | O_TMPFILE) ? va_arg(more, mode_t) : 0;                        \
    va_end(more);                                                                                  \
    return open_any(path, flags, mode);                                                            \
  }
OPENS(open)
OPENS(open64)
int __open_2(const char *path, int flags) {
  return open_any(path, flags, 0);
}
int __open64_2(const char *path, int flags) {
  return open_any(path, flags, 0);
}
ssize_t write(int number, const void *data, size_t size) {
  return write_any(number, data, size, 0, FALSE);
}
ssize_t pwrite(int number, const void *data, size_t size, off_t at) {
  return write_any(number, data, size, at, TRUE);
}
ssize_t pwrite64(int number, const void *data, size_t size, off64_t at) {
  return write_any(number, data, size, at, TRUE);
}
int fsync(int number) {
  return sync_any(number);
}
int fdatasync(int number) {
  return sync_any(number);
}
int ftruncate(int number, off_t length) {
  return truncate_any(number, length);
}
int ftruncate64(int number, off64_t length) {
  return truncate_any(number, length);
}

int unlink(const char *path) {
  g_mutex_lock(&disk.mutex);
  const char *name = name_in(path);
  int done = name && fails(FALSE) ? -1 : (int)raw(SYS_unlink, (long)path, 0, 0, 0);
  if (done == 0 && name)
    rename_now(GONE, name, NULL, NULL);
  int why = errno;
  g_mutex_unlock(&disk.mutex);
  errno = why;
  return done;
}

int rename(const char *from, const char *to) {
  g_mutex_lock(&disk.mutex);
  const char *name = name_in(from), *other = name_in(to);
  int done = name && fails(FALSE) ? -1 : (int)raw(SYS_rename, (long)from, (long)to, 0, 0);
  if (done == 0 && name && other)
    rename_now(MOVED, name, other, NULL);
  int why = errno;
  g_mutex_unlock(&disk.mutex);
  errno = why;
  return done;
}

/* A second name of a file. */
int link(const char *from, const char *to) {
  g_mutex_lock(&disk.mutex);
  const char *name = name_in(from), *other = name_in(to);
  int done = name && other && fails(TRUE) ? -1 : (int)raw(SYS_link, (long)from, (long)to, 0, 0);
  if (done == 0 && name && other)
    rename_now(MADE, other, NULL, g_hash_table_lookup(disk.now, name));
  int why = errno;
  g_mutex_unlock(&disk.mutex);
  errno = why;
  return done;
}

int close(int number) {
  g_mutex_lock(&disk.mutex);
  if (number >= 0 && number < FILES_MOST) {
    disk.files[number] = NULL;
    disk.folders[number] = FALSE;
  }
  g_mutex_unlock(&disk.mutex);
  return (int)raw(SYS_close, number, 0, 0, 0);
}
