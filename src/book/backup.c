/* The copy is made under another name, "NAME.part-PID", whose writer holds a lock on it (flock(2)) until it has its own
 * name: a part that can be locked has lost its writer, and goes. */
#include "book/backup.h"
#include "base/error.h"
#include "book/book_file.h"
#include "book/room.h"
#include "book/sql.h"
#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#define PART        ".part-"
#define STEPS       10  /* of SQLite between two questions: a row takes about five */
#define TRIES       20  /* to make a part that nobody sweeps away */
#define STEPS_SHOWN 100 /* questions between two looks at how long the copy is */

static gboolean is_part(const char *name) {
  const char *mark = g_strrstr(name, PART);
  const char *digits = mark ? mark + strlen(PART) : "";
  gsize count = strspn(digits, "0123456789");
  return count > 0 && (digits[count] == 0 || strcmp(digits + count, "-journal") == 0 ||
                       strcmp(digits + count, "-wal") == 0);
}

static void sweep_part(const char *path) {
  int file = open(path, O_RDWR | O_CLOEXEC | O_NOFOLLOW);
  if (file >= 0 && flock(file, LOCK_EX | LOCK_NB) == 0)
    g_unlink(path);
  if (file >= 0)
    close(file);
}

static void sweep_parts(const char *folder) {
  g_autoptr(GDir) dir = g_dir_open(folder, 0, NULL);
  for (const char *name; dir && (name = g_dir_read_name(dir));) {
    g_autofree char *path = g_build_filename(folder, name, NULL);
    if (is_part(name) && g_file_test(path, G_FILE_TEST_IS_REGULAR))
      sweep_part(path);
  }
}

/* Is this name still the open file's? */
static gboolean has_name(int file, const char *name) {
  struct stat here, there;
  return fstat(file, &here) == 0 && lstat(name, &there) == 0 && here.st_dev == there.st_dev &&
         here.st_ino == there.st_ino;
}

/* Made and locked. Whoever sweeps may lock it in the instant between the two, and removes it then: only he does, so that what he removes
 * is never the next one. -1 with *error. */
static int make_part(const char *part, const char *path, gboolean shared, GError **error) {
  int why = EEXIST;
  for (int i = 0; i < TRIES && (why == EEXIST || why == EWOULDBLOCK); i++) {
    if (i)
      g_usleep(10000);
    int file = open(part, O_CREAT | O_EXCL | O_RDWR | O_CLOEXEC, shared ? 0666 : 0600);
    why = file < 0 ? errno : 0;
    if (file >= 0 && flock(file, LOCK_EX | LOCK_NB) != 0)
      why = errno;
    else if (file >= 0 && has_name(file, part))
      return file;
    else if (file >= 0)
      why = EWOULDBLOCK; /* swept before the lock */
    if (file >= 0 && why != EWOULDBLOCK)
      g_unlink(part);
    if (file >= 0)
      close(file);
  }
  ew_fail(error, "%s: the unfinished copy beside it can't be made and locked: %s", path,
          g_strerror(why));
  return -1;
}

struct copying {
  const struct ew_backup_options *options;
  int file;
  double whole; /* bytes that the copy will have at most */
  double share;
  guint steps;
};

static void show_share(struct copying *c) {
  struct stat now;
  if (fstat(c->file, &now) != 0 || !(c->whole > 0))
    return;
  c->share = CLAMP((double)now.st_size / c->whole, c->share, 1);
  c->options->progress(c->share, c->options->data);
}

/* SQLite asks now and then while the copy is made. */
static int on_step(void *user) {
  struct copying *c = user;
  if (c->options->progress && c->steps++ % STEPS_SHOWN == 0)
    show_share(c);
  return c->options->cancel && g_atomic_int_get(c->options->cancel);
}

static gboolean copy(struct ew_port *port, const char *part, struct copying *c, GError **error) {
  port->class->watch(port, on_step, c, STEPS);
  gboolean good = port->class->copy(port, part, error);
  port->class->watch(port, NULL, NULL, 0);
  if (c->options->progress)
    c->options->progress(1, c->options->data);
  return good;
}

static gboolean sync_folder(const char *folder) {
  int file = open(folder, O_RDONLY | O_CLOEXEC);
  gboolean good = file >= 0 && fsync(file) == 0;
  if (file >= 0)
    close(file);
  return good;
}

gboolean ew_book_backup(struct ew_book *book, const char *path,
                        const struct ew_backup_options *options, GError **error) {
  const struct ew_backup_options o = options ? *options : (struct ew_backup_options){0};
  if (g_file_test(path, G_FILE_TEST_EXISTS))
    return ew_refuse(error, "%s: there is already a file: choose another name", path);
  g_autofree char *part = g_strdup_printf("%s" PART "%d", path, (int)getpid());
  g_autofree char *folder = g_path_get_dirname(path);
  sweep_parts(folder);
  struct ew_port *port = ew_book_port(book);
  gint64 size = port->class->size(port, error);
  if (size < 0 || !ew_room_for(path, (guint64)size, error))
    return FALSE;
  int file = make_part(part, path, o.shared, error);
  if (file < 0)
    return FALSE;
  struct copying copying = {.options = &o, .file = file, .whole = (double)size};
  gboolean good = copy(port, part, &copying, error);
  if (!good && o.cancel && g_atomic_int_get(o.cancel)) {
    g_clear_error(error);
    ew_refuse(error, "%s: stopped before the copy was complete: nothing of it was kept", path);
  }
  gboolean named = good && fsync(file) == 0 && rename(part, path) == 0;
  if (good && (!named || !sync_folder(folder)))
    good = ew_fail(error, "%s: %s", path, g_strerror(errno));
  if (!good) /* a copy that may be gone after a power cut is not left as one */
    ew_book_file_remove(named ? path : part);
  close(file);
  return good;
}
