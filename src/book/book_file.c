/* Which file a book is, and the lock of its one recorder. A descriptor of a book is never closed while SQLite has
 * the file open, as closing any of them lets go of SQLite's own locks in this process (fcntl(2)): locks are kept by
 * inode until the file has no name any more, which nobody else can open then. */
#include "book/book_file.h"
#include "base/error.h"
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

typedef char real_name; /* of malloc */
static void real_name_free(real_name *name) {
  free(name);
}
G_DEFINE_AUTOPTR_CLEANUP_FUNC(real_name, real_name_free)

static gboolean is_plain(const char *path, const struct stat *facts, GError **error) {
  if (!S_ISREG(facts->st_mode))
    return ew_refuse_with(error, EW_REMEDY_OTHER_BOOK, "%s: not a regular file", path);
  if (facts->st_nlink > 1)
    return ew_refuse(error,
                     "%s: this file has %lu names (hard links), and a book that is written by two "
                     "names is damaged: make a copy with 'cp' and open that",
                     path, (unsigned long)facts->st_nlink);
  return TRUE;
}

gboolean ew_book_file_make(const char *path, gboolean shared, GError **error) {
  int file = open(path, O_CREAT | O_EXCL | O_WRONLY | O_CLOEXEC, shared ? 0666 : 0600);
  if (file < 0 && errno != EEXIST) /* made by another at the same moment: as good */
    return ew_fail(error, "%s: %s", path, g_strerror(errno));
  if (file >= 0)
    close(file);
  return TRUE;
}

void ew_book_file_remove(const char *path) {
  static const char *const ends[] = {"", "-wal", "-shm", "-journal"};
  for (gsize i = 0; i < G_N_ELEMENTS(ends); i++) {
    g_autofree char *file = g_strconcat(path, ends[i], NULL);
    unlink(file);
  }
}

#define TRIES 5

/* Closing any descriptor of a file takes SQLite's locks on it from the whole process (fcntl(2), "Record locks"),
 * so a descriptor once opened for the lock is kept, and found again by the file that it is of. */
struct ew_book_lock {
  dev_t device;
  ino_t inode;
  int file;
  gboolean held;
};

static GMutex mutex;
static GPtrArray *known; /* struct ew_book_lock* */

static struct ew_book_lock *lock_of(const struct stat *facts) {
  for (guint i = 0; known && i < known->len; i++) {
    struct ew_book_lock *lock = g_ptr_array_index(known, i);
    if (lock->device == facts->st_dev && lock->inode == facts->st_ino)
      return lock;
  }
  return NULL;
}

/* A recorder's book has its log beside it. Where there is none, the book has got another name meanwhile, and
 * opened by that it would lack its log. The descriptor is kept, as every one: another thread may have the book open since the log was
 * looked for, and closed here, this took its locks; the next program to end then removed the log that it was writing to. */
static gboolean is_not_recorded(const char *path, GError **error) {
  if (!ew_book_lock_is_held(path))
    return TRUE;
  return ew_refuse(error,
                   "%s: another recorder is working on this book, which had another name when it "
                   "began: give that back, or wait until it ends",
                   path);
}

int ew_book_file_look(const char *path, GError **error) {
  static const char *const ends[] = {"-wal", "-shm", "-journal"};
  struct stat facts;
  if (stat(path, &facts) != 0)
    return errno == ENOENT ? 0 : (ew_refuse(error, "%s: %s", path, g_strerror(errno)), -1);
  g_autoptr(real_name) real = realpath(path, NULL);
  gboolean good = is_plain(path, &facts, error), log = FALSE;
  for (gsize i = 0; good && real && i < G_N_ELEMENTS(ends); i++) {
    g_autofree char *beside = g_strconcat(real, ends[i], NULL);
    gboolean there = lstat(beside, &facts) == 0;
    log |= there && i == 0;
    good = !there || is_plain(beside, &facts, error);
  }
  return good && (log || is_not_recorded(path, error)) ? 1 : -1;
}

/* A book that was replaced or removed leaves a descriptor without a name: hundreds of them in a process that works on as many books. */
static void forget_removed(void) {
  struct stat facts;
  for (guint i = known ? known->len : 0; i-- > 0;) {
    struct ew_book_lock *lock = g_ptr_array_index(known, i);
    if (lock->held || fstat(lock->file, &facts) != 0 || facts.st_nlink > 0)
      continue;
    close(lock->file);
    g_free(lock);
    g_ptr_array_remove_index_fast(known, i);
  }
}

static struct ew_book_lock *lock_new(int file, const struct stat *facts) {
  struct ew_book_lock *lock = g_new0(struct ew_book_lock, 1);
  *lock = (struct ew_book_lock){facts->st_dev, facts->st_ino, file, FALSE};
  if (!known)
    known = g_ptr_array_new();
  g_ptr_array_add(known, lock);
  return lock;
}

static struct ew_book_lock *find_or_open(const char *path, GError **error) {
  struct stat facts;
  struct ew_book_lock *lock = stat(path, &facts) == 0 ? lock_of(&facts) : NULL;
  if (lock)
    return lock;
  forget_removed();
  int file = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
  if (file >= 0 && fstat(file, &facts) == 0)
    return lock_new(file, &facts);
  ew_fail(error, "%s: %s", path, g_strerror(errno));
  return NULL;
}

/* Somebody who looks whether it is held holds it for an instant. */
static gboolean try_lock(int file) {
  for (int i = 0; i < TRIES; i++) {
    if (flock(file, LOCK_EX | LOCK_NB) == 0)
      return TRUE;
    g_usleep(10000);
  }
  return FALSE;
}

struct ew_book_lock *ew_book_lock_take(const char *path, GError **error) {
  if (ew_book_file_look(path, error) < 0)
    return NULL;
  g_mutex_lock(&mutex);
  struct ew_book_lock *lock = find_or_open(path, error);
  gboolean good = lock && !lock->held && try_lock(lock->file);
  if (good)
    lock->held = TRUE;
  else if (lock)
    ew_refuse(error, "%s: another recorder is working on this book", path);
  g_mutex_unlock(&mutex);
  return good ? lock : NULL;
}

gboolean ew_book_lock_is_held(const char *path) {
  g_mutex_lock(&mutex);
  struct ew_book_lock *lock = find_or_open(path, NULL);
  gboolean held = lock && (lock->held || flock(lock->file, LOCK_SH | LOCK_NB) != 0);
  if (lock && !held)
    flock(lock->file, LOCK_UN);
  g_mutex_unlock(&mutex);
  return held;
}

void ew_book_lock_release(struct ew_book_lock *lock) {
  if (!lock)
    return;
  g_mutex_lock(&mutex);
  g_assert(lock->held);
  flock(lock->file, LOCK_UN);
  lock->held = FALSE;
  g_mutex_unlock(&mutex);
}
