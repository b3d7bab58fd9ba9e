/* Free space of the disk a book is on, and the floor below which only measured pulls are stored: 512 MB, or a
 * fiftieth of a smaller disk. */
#include "book/room.h"
#include "base/error.h"
#include <sys/statvfs.h>

#define FLOOR_MOST  ((gint64)512 << 20) /* hours of a cell at 100 Hz; common practice, no source */
#define FLOOR_SHARE 50

static gint64 floor_of(const struct statvfs *disk) {
  const char *asked = g_getenv("EW_FLOOR_MB");
  guint64 megabytes;
  if (asked && g_ascii_string_to_unsigned(asked, 10, 0, 1 << 30, &megabytes, NULL))
    return (gint64)megabytes << 20;
  return MIN(FLOOR_MOST, (gint64)(disk->f_blocks * disk->f_frsize / FLOOR_SHARE));
}

/* A book that is yet to be made: its folder is asked. */
static gboolean ask(const char *path, struct statvfs *disk) {
  g_autofree char *folder = g_path_get_dirname(path);
  return statvfs(path, disk) == 0 || statvfs(folder, disk) == 0;
}

gint64 ew_room_floor(const char *path) {
  struct statvfs disk;
  return ask(path, &disk) ? floor_of(&disk) : 0;
}

gint64 ew_room_left(const char *path) {
  struct statvfs disk;
  return ask(path, &disk) ? (gint64)(disk.f_bavail * disk.f_frsize) - floor_of(&disk) : G_MAXINT64;
}

gboolean ew_room_for(const char *path, guint64 bytes, GError **error) {
  gint64 left = ew_room_left(path);
  if (left > 0 && bytes <= (guint64)left)
    return TRUE;
  return ew_refuse(error,
                   "the disk is nearly full: %.0f MB are wanted, and its last %.0f MB are kept for "
                   "pulls: free some space first",
                   (double)bytes / 1048576, (double)ew_room_floor(path) / 1048576);
}
