/* A recorder's profile: how one recorder's files and lines are read, in YAML.
 *
 *   channels:                 # all parts of a channel map (pull/channel_map.h)
 *     torque: { column: "Load 1", unit: lb-ft }
 *     air_fuel_ratio: { column: "O2", fuel: petrol }
 *   ignore: ["Spare 1"]
 *   not_fitted: [oil_pressure]
 *   rate: 50 Hz
 *   zone: America/Los_Angeles # of the recorder's own clock, where it is not the shop's
 *
 * Files are known by their columns: the digest of the headings, in their order. Live sources have headings too. */
#pragma once
#include "desk/loaded.h"

struct ew_profile {
  char *map;  /* the channel map in it, as YAML */
  char *zone; /* NULL: the shop's */
};
/* Refuses what is not a profile, a channel, unit or zone that there is not, and an empty one. */
gboolean ew_profile_read(const char *yaml, struct ew_profile *profile, GError **error);
void ew_profile_clear(struct ew_profile *profile);

/* The profile with another map (YAML), its zone as it is. NULL with *error: it is not a map. */
char *ew_profile_with(const struct ew_profile *profile, const char *map, GError **error);

/* The digest of the headings of a table. */
char *ew_fingerprint_of(const struct ew_table_layout *layout);

/* A profile for files like this one, as the program understands it by itself: a row for each channel that it knows, with
 * its unit. `desk` may have a channel map. */
char *ew_profile_propose(const struct ew_desk *desk, GBytes *bytes, const char *name,
                         GError **error);
/* Does it fit? Refuses a profile that names a column which the file does not have, and one by which nothing is known. */
gboolean ew_profile_fits(const struct ew_desk *desk, const struct ew_profile *profile,
                         GBytes *bytes, const char *name, GError **error);

/* All active profiles of a book, read before a session, so that no header waits for the disk. O(profiles). */
struct ew_profiles;
struct ew_profiles *ew_profiles_read(struct ew_book *book, GError **error);
void ew_profiles_free(struct ew_profiles *profiles); /* NULL: nothing */
/* The channel map of the recorder whose columns, a time first, are these; NULL: none, also of NULL. */
const struct ew_channel_map *ew_profiles_find(const struct ew_profiles *profiles,
                                              char *const *names, guint count);

/* What is to be said when a profile changes while somebody records into this book: the session goes on by what it read when it began.
 * NULL: nobody does. */
ew_message *ew_recorder_session(struct ew_book *book);

/* The profile proposed from a recording of the book is kept under this name, and files with its columns are read by it from then on.
 * Refuses a recording that is not there or has no table of its own, and a name that is taken. *version and *yaml (to be freed) say what was kept. */
gboolean ew_recorder_keep_like(const struct ew_desk *desk, gint64 recording, const char *name,
                               const char *who, gint64 *version, char **yaml, GError **error);
