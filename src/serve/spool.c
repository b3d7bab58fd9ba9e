/* One body coming in: memory up to 1 MB, then a nameless file. The count of bytes in files is the process's own, and
 * a spool gives its share back when it ends or is thrown away. */
#include "serve/spool.h"
#include "base/language.h"
#include "book/room.h"
#include <errno.h>
#include <fcntl.h>
#include <unistd.h>

#define IN_MEMORY ((gsize)1 << 20)
#define UNWEIGHED ((gsize)64 << 10)
#define IN_ALL    ((gsize)512 << 20) /* of all spools in files: eight of the longest */

struct ew_spool {
  char *folder;
  GByteArray *bytes; /* until it is a file */
  int file;          /* -1: none */
  gsize size;
  gsize filed; /* of it, counted in `in_files` */
  guint64 holder;
};
/* What one holder has: on the way in, and in the book since the process began. */
struct share {
  gint64 coming, kept;
};
/* Of the whole process; the server's main thread alone. */
static gsize in_files;
static GHashTable *shares; /* guint64 -> struct share; as many as there are devices */

static struct share *share_of(guint64 holder) {
  if (!shares)
    shares = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, g_free);
  struct share *share = g_hash_table_lookup(shares, &holder);
  if (!share) {
    share = g_new0(struct share, 1);
    g_hash_table_insert(shares, g_memdup2(&holder, sizeof holder), share);
  }
  return share;
}

struct ew_spool *ew_spool_new(const char *folder, guint64 holder) {
  struct ew_spool *s = g_new0(struct ew_spool, 1);
  s->holder = holder;
  s->folder = g_strdup(folder);
  s->bytes = g_byte_array_new();
  s->file = -1;
  return s;
}

gsize ew_spool_size(const struct ew_spool *s) {
  return s->size;
}

static gboolean write_all(int file, const char *data, gsize size) {
  while (size > 0) {
    gssize written = write(file, data, size);
    if (written < 0 && errno != EINTR)
      return FALSE;
    if (written > 0) {
      data += written;
      size -= (gsize)written;
    }
  }
  return TRUE;
}

/* Without a name from the start, or where the disk knows no such files, from the next moment on. */
static int nameless(const char *folder) {
  int file = open(folder, O_TMPFILE | O_RDWR | O_CLOEXEC, 0600);
  if (file >= 0)
    return file;
  g_autofree char *name = g_build_filename(folder, ".upload-XXXXXX", NULL);
  file = g_mkstemp_full(name, O_RDWR | O_CLOEXEC, 0600);
  if (file >= 0)
    unlink(name);
  return file;
}

static void count_filed(struct ew_spool *s, gsize size) {
  s->filed += size;
  in_files += size;
}

/* What was in memory goes into the file first. */
static gboolean to_file(struct ew_spool *s) {
  if (s->file >= 0)
    return TRUE;
  s->file = nameless(s->folder);
  gboolean good = s->file >= 0 && write_all(s->file, (const char *)s->bytes->data, s->bytes->len);
  count_filed(s, s->file >= 0 ? s->bytes->len : 0);
  g_byte_array_set_size(s->bytes, 0);
  return good;
}

/* Half of what would be there without it. */
static gboolean is_within(gint64 has, gint64 size, gint64 left) {
  return has + size <= (has + MAX(left, 0)) / 2;
}

static guint weigh(const struct ew_spool *s, gsize size, const char **why) {
  const struct share *share = share_of(s->holder);
  *why = EW_TEXT("this device is sending too much at once: wait until the other files are in");
  if (!is_within(share->coming, (gint64)size, (gint64)IN_ALL - (gint64)in_files))
    return 503;
  *why = EW_TEXT("this device has had its share of the disk, and the rest is for others: add the "
                 "file at the machine itself, or free some space there");
  return is_within(share->kept + share->coming, (gint64)size, ew_room_left(s->folder)) ? 0 : 507;
}

/* A part that is refused leaves the spool as it was. */
static guint take_part(struct ew_spool *s, const void *data, gsize size, const char **why) {
  if (s->file < 0 && s->size + size <= IN_MEMORY) {
    g_byte_array_append(s->bytes, data, (guint)size);
    return 0;
  }
  *why = EW_TEXT("too much is coming in at once; send it again in a moment");
  if (in_files + size + (s->file < 0 ? s->size : 0) > IN_ALL)
    return 503;
  *why = EW_TEXT("the disk is nearly full: free some space first");
  if (!ew_room_for(s->folder, size, NULL) || !to_file(s) || !write_all(s->file, data, size))
    return 507;
  count_filed(s, size);
  g_assert(s->filed == s->size + size && in_files <= IN_ALL);
  return 0;
}

guint ew_spool_add(struct ew_spool *s, const void *data, gsize size, const char **why) {
  guint status = s->holder && s->size + size > UNWEIGHED ? weigh(s, size, why) : 0;
  status = status ? status : take_part(s, data, size, why);
  if (status)
    return status;
  s->size += size;
  if (s->holder)
    share_of(s->holder)->coming += (gint64)size;
  return 0;
}

void ew_spool_kept(guint64 holder, gsize size) {
  if (holder && size > UNWEIGHED)
    share_of(holder)->kept += (gint64)size;
}

GBytes *ew_spool_end(struct ew_spool *s) {
  GBytes *bytes;
  if (s->file < 0)
    bytes = g_byte_array_free_to_bytes(g_steal_pointer(&s->bytes));
  else {
    g_autoptr(GMappedFile) map = g_mapped_file_new_from_fd(s->file, FALSE, NULL);
    bytes = map ? g_mapped_file_get_bytes(map) : g_bytes_new(NULL, 0);
  }
  ew_spool_free(s);
  return bytes;
}

static void give_share_back(const struct ew_spool *s) {
  struct share *share = share_of(s->holder);
  share->coming -= (gint64)s->size;
  g_assert(share->coming >= 0);
}

void ew_spool_free(struct ew_spool *s) {
  if (!s)
    return;
  if (s->holder)
    give_share_back(s);
  g_assert(in_files >= s->filed); /* a part that was refused was never counted */
  in_files -= s->filed;
  if (s->file >= 0)
    close(s->file);
  if (s->bytes)
    g_byte_array_unref(s->bytes);
  g_free(s->folder);
  g_free(s);
}
