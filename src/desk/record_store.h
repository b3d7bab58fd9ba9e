/* The storing half of a live session: what is pending is appended in short transactions by a thread
 * of its own; what can't be stored is reported and tried again, and nothing is said to be stored before its
 * commit. */
#pragma once
#include "book/cut.h"
#include "book/stream.h"
#include "book/trip.h"
#include "cell/source.h"

struct ew_store;

/* One recording under way: a source with one set of channels. */
struct ew_section {
  const char *source;
  char **names, **units;
  guint channels, columns; /* columns: the time too */
  gint64 recording_id;     /* 0 until the first commit */
  gint64 appended_rows;    /* given to the store so far; changed by the live thread alone */
  gint64 stored_rows, sequence, lost_rows;
  gint64 taken_rows; /* of the transaction under way */
  double stored_s;   /* time of the last stored row */
  /* below: guarded by the store's mutex */
  GArray *pending; /* double, rows of columns */
  double oldest_arrival_s;
  const char *end; /* how it ended; NULL: it goes on */
  guint cuts;      /* pulls cut out of it that are not in the book yet */
  gboolean ended;
};

/* id, word. SLOW: rows wait longer for the disk than they should, before anything has failed. LOW: the disk fills,
 * reported when twice the floor of book/room.h is left. */
#define EW_STORE_NEWS(X)                                                                           \
  X(COMMIT, "stored")                                                                              \
  X(SLOW, "slow")                                                                                  \
  X(FAST_AGAIN, "fast again")                                                                      \
  X(FAILED, "failed")                                                                              \
  X(GOOD_AGAIN, "good again")                                                                      \
  X(LOST, "lost")                                                                                  \
  X(LOW, "low")                                                                                    \
  X(ROOM, "room again")

enum ew_store_news {
#define X(id, word) EW_STORE_##id,
  EW_STORE_NEWS(X)
#undef X
      EW_STORE_NEWS_COUNT
};
extern const char *const ew_store_news_words[];
typedef void (*ew_store_says)(enum ew_store_news news, const struct ew_section *section,
                              const ew_message *why,
                              gpointer user); /* why: NULL with COMMIT and GOOD_AGAIN */

struct ew_store_options {
  const char *path, *name;
  gint64 engine_id;
  gboolean power;
  gsize pending_most; /* bytes a section may wait with; 0: 256 MB */
  double slow_s;      /* rows that wait longer are reported; 0: 0.5 s */
};
struct ew_store *ew_store_open(const struct ew_store_options *options, ew_store_says says,
                               gpointer user, GError **error);
/* Owned by the store. */
struct ew_section *ew_store_section(struct ew_store *store, const char *source,
                                    const struct ew_source_channels *channels);
/* Never waits for the disk. */
void ew_store_append(struct ew_store *store, struct ew_section *section, double time_s,
                     double arrival_s, const double *values);
/* Called by the live thread now and then: reports when rows wait too long for the disk, and when they no longer
 * do. The storing thread can't: it is the one that waits. */
void ew_store_watch(struct ew_store *store, double now_s);
/* Is the floor of the disk's free space reached? What is only practised ends then. */
gboolean ew_store_is_full(struct ew_store *store);
/* Its end is stored once the pulls that were cut out of it are: a recording that has ended in the book has all its pulls there, and one
 * whose recorder was killed between rows and pull is found again as cut off (record_recover.h). */
void ew_store_end_section(struct ew_store *store, struct ew_section *section, const char *how);
/* A pull was cut out of it, and it is in the book or nowhere, for good. Each is called once for each pull. */
void ew_store_cut_begins(struct ew_store *store, struct ew_section *section);
void ew_store_cut_ends(struct ew_store *store, struct ew_section *section);
/* A mark or a trip, stored with the next commit of its section. */
void ew_store_mark(struct ew_store *store, struct ew_section *section, double time_s,
                   const char *text);
/* A setting of the book, with the next transaction; `value` "": none any more. */
void ew_store_setting(struct ew_store *store, const char *key, const char *value);
/* `sections[i]` was at times_s[i], by its own clock, when it tripped; the first that holds a row when it is
 * stored is the trip's recording, and its time the trip's. Copied. */
void ew_store_trip(struct ew_store *store, struct ew_section *const *sections,
                   const double *times_s, guint count, const struct ew_trip_row *row);
/* Are the first `rows` rows of this section in the book, or given up? Whatever was noted before the last of
 * them came is there with them. */
gboolean ew_store_has(struct ew_store *store, const struct ew_section *section, gint64 rows);
/* What of this section is in the book: rows, and the block that comes next. FALSE when rows of it were given up, so that rows no
 * longer have the number that they came with. */
gboolean ew_store_anchor(struct ew_store *store, const struct ew_section *section,
                         struct ew_cut_anchor *anchor);
/* Stores what is pending, ends every section with `how`, stops the threads. FALSE when rows had to be
 * given up. */
gboolean ew_store_close(struct ew_store *store, const char *how, GError **error);
/* Seconds from arrival to durable, of the latest 65,536 blocks: a sorted copy. */
GArray *ew_store_latencies(struct ew_store *store);
