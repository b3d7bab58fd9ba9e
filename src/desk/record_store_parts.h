/* What the two files of the store share: record_store.c (what the live thread may ask of it, opening and closing) and
 * record_store_thread.c (taking what waits into the book). Not for others. */
#pragma once
#include "desk/record_store.h"

struct note {
  struct ew_section *section;   /* of a mark */
  struct ew_section **sections; /* of a trip */
  double *times_s;
  guint count;
  gboolean trip;
  double time_s;
  struct ew_live_place *places; /* the same, as the book wants them */
  char *text;
  struct ew_trip_row row;
  char *name, *action, *says;
  char *key; /* of a setting, whose value is `text` */
};

struct ew_store {
  struct ew_store_options options;
  char *path, *name;
  ew_store_says says;
  gpointer user;
  GMutex mutex;
  GCond news;
  GPtrArray *sections; /* struct ew_section* */
  GQueue notes;        /* struct note* */
  gboolean stopping, given_up;
  gint failing;        /* atomic */
  double under_way_s;  /* arrival of the oldest row of the transaction under way; NaN: none */
  guint64 waiting;     /* rows of it */
  gboolean slow;       /* told; of the live thread alone */
  double slow_since_s; /* when it was told */
  struct ew_book *book, *checker;
  GThread *thread, *checking;
  GArray *latencies;
  guint next_latency;
  gint checked_out; /* atomic: the checkpoint thread shall end */
  gint left_mb; /* atomic: room on the disk above its floor, as the checkpoint thread last saw it */
  gint64 floor_mb;
  gboolean low; /* told; of the live thread alone */
};

void ew_store_note_free(struct note *note);
/* With the mutex held: every row that was given is stored, on its way, waiting or lost, and counted once. */
void ew_store_check_section(const struct ew_section *section);
/* Says it, and frees the message. */
void ew_store_report(struct ew_store *store, enum ew_store_news news,
                     const struct ew_section *section, ew_message *why);
/* Of the storing thread; `user` is the store. */
gpointer ew_store_thread(gpointer user);
