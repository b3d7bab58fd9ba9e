/* Room on the book's disk. A floor of free space is kept: below it no file, recording from outside, backup or practice is
 * taken, so that a real pull can still be stored and the machine goes on. Measured pulls are stored until the disk takes
 * no more, and that it is filling is reported before. */
#pragma once
#include <glib.h>

/* Bytes above the floor on the disk of `path`; 0 or less: the floor is reached. The floor is 2 % of the disk, 512 MB at most;
 * $EW_FLOOR_MB sets another. A disk that can't be asked has room. */
gint64 ew_room_left(const char *path);
gint64 ew_room_floor(const char *path);
/* Refuses what would go below the floor. */
gboolean ew_room_for(const char *path, guint64 bytes, GError **error);
