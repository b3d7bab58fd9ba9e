/* Files of this machine and account: read only when they are ours alone, written whole by another name and a rename,
 * synced with their folder. Every doubt is a refusal. */
#include "base/machine.h"
#include "base/error.h"
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/random.h>
#include <sys/stat.h>
#include <unistd.h>

#define BYTES_MOST ((off_t)1 << 20)

char *ew_machine_path(const char *name) {
  return g_build_filename(g_get_user_config_dir(), "enginewright", name, NULL);
}

/* The folder is ours alone: who may write into it could put another file in a file's place. */
static gboolean own_folder(GError **error) {
  g_autofree char *folder = ew_machine_path(NULL);
  struct stat about;
  if (g_mkdir_with_parents(folder, 0700) != 0 || stat(folder, &about) != 0)
    return ew_fail(error, "%s: can't be created: %s", folder, g_strerror(errno));
  return (about.st_uid == geteuid() && !(about.st_mode & 022)) ||
         ew_refuse(error, "%s: others may write to it; make it yours alone: chmod 700 %s", folder,
                   folder);
}

static gboolean is_ours(const char *path, const struct stat *about, GError **error) {
  if (!S_ISREG(about->st_mode) || about->st_nlink != 1)
    return ew_refuse(error, "%s: not a regular file with a single link; remove it", path);
  if (about->st_uid != geteuid())
    return ew_refuse(error, "%s: owned by another account; remove it", path);
  if (about->st_mode & 077)
    return ew_refuse(
        error,
        "%s: others may read or write it; chmod 600 it if they never did, otherwise remove it",
        path);
  return about->st_size <= BYTES_MOST || ew_refuse(error, "%s: longer than 1 MB; remove it", path);
}

static gboolean read_all(int file, const char *path, gsize size, char **text, GError **error) {
  gsize at = 0;
  *text = g_malloc0(size + 1);
  while (at < size) {
    gssize got = read(file, *text + at, size - at);
    if (got < 0 && errno == EINTR)
      continue;
    if (got <= 0)
      break;
    at += (gsize)got;
  }
  if (at == size)
    return TRUE;
  g_clear_pointer(text, g_free);
  return ew_fail(error, "%s: can't be read: %s", path, g_strerror(errno));
}

gboolean ew_machine_read(const char *name, char **text, GError **error) {
  g_autofree char *path = ew_machine_path(name);
  struct stat about;
  *text = NULL;
  int file = open(path, O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
  if (file < 0 && errno == ENOENT)
    return TRUE;
  if (file < 0)
    return ew_refuse(error, "%s: can't be opened: %s", path, g_strerror(errno));
  gboolean good = fstat(file, &about) == 0 ? is_ours(path, &about, error) && own_folder(error)
                                           : ew_fail(error, "%s: %s", path, g_strerror(errno));
  good = good && read_all(file, path, (gsize)about.st_size, text, error);
  close(file);
  return good;
}

static gboolean write_all(int file, const char *text) {
  gsize left = strlen(text);
  while (left > 0) {
    gssize put = write(file, text, left);
    if (put < 0 && errno == EINTR)
      continue;
    if (put <= 0)
      return FALSE;
    text += put;
    left -= (gsize)put;
  }
  return fsync(file) == 0;
}

/* The name in the folder is on the disk too, not only the bytes. */
static gboolean sync_folder(void) {
  g_autofree char *folder = ew_machine_path(NULL);
  int file = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  gboolean good = file >= 0 && fsync(file) == 0;
  if (file >= 0)
    close(file);
  return good;
}

/* What was there keeps a second name until the new one is on the disk, and gets its own back when that fails. */
static gboolean put_in_place(const char *part, const char *path) {
  g_autofree char *before = g_strconcat(part, ".before", NULL);
  gboolean kept = link(path, before) == 0;
  gboolean named = (kept || errno == ENOENT) && rename(part, path) == 0;
  gboolean good = named && sync_folder();
  int problem = errno;
  if (named && !good && kept)
    rename(before, path);
  else if (named && !good)
    unlink(path);
  if (kept)
    unlink(before);
  errno = problem;
  return good;
}

gboolean ew_machine_write(const char *name, const char *text, GError **error) {
  g_autofree char *path = ew_machine_path(name), *chance = ew_machine_random(8);
  g_autofree char *part = g_strconcat(path, ".part-", chance, NULL);
  if (!own_folder(error))
    return FALSE;
  int file = open(part, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, 0600);
  gboolean good = file >= 0 && write_all(file, text);
  int problem = good ? 0 : errno;
  if (file >= 0)
    close(file);
  if (good && put_in_place(part, path))
    return TRUE;
  problem = problem ? problem : errno;
  unlink(part);
  return ew_fail(error, "%s: can't be written: %s", path, g_strerror(problem));
}

int ew_machine_lock(const char *name, GError **error) {
  g_autofree char *path = ew_machine_path(name);
  if (!own_folder(error))
    return -1;
  int file = open(path, O_CREAT | O_RDWR | O_CLOEXEC | O_NOFOLLOW, 0600);
  if (file >= 0 && flock(file, LOCK_EX) == 0)
    return file;
  ew_fail(error, "%s: %s", path, g_strerror(errno));
  if (file >= 0)
    close(file);
  return -1;
}

char *ew_machine_identity(void) {
  g_autofree char *id = NULL;
  if (!g_file_get_contents("/etc/machine-id", &id, NULL, NULL))
    id = g_strdup(g_get_host_name()); /* a machine without machine-id(5) has its name only */
  g_autofree char *text = g_strdup_printf("enginewright %s %u", g_strstrip(id), (guint)geteuid());
  return g_compute_checksum_for_string(G_CHECKSUM_SHA256, text, -1);
}

char *ew_machine_random(gsize bytes) {
  guint8 chance[64];
  g_assert(bytes <= sizeof chance);
  if (getrandom(chance, bytes, 0) != (ssize_t)bytes)
    g_error("the kernel gives no random bytes");
  GString *text = g_string_new(NULL);
  for (gsize i = 0; i < bytes; i++)
    g_string_append_printf(text, "%02x", chance[i]);
  return g_string_free(text, FALSE);
}
