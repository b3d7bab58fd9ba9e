/* The reducing half of a live session: a cut of the stream becomes a recording of its own, whose rows are those of the stream
 * (book/cut.h), is reduced and stored like any file, and judged against the last like pull, by a thread of its own. */
#pragma once
#include "cell/own_curves.h"
#include "desk/add.h"
#include "desk/record_setup.h"
#include "desk/record_store.h"

struct ew_pull_cut {
  struct ew_store *store;
  struct ew_section *section; /* its stream: the id appears with the first commit */
  gint64 until_row;           /* so many rows of it had come when the pull ended */
  gint64 recording_id;        /* of that stream; set by the shop */
  char **headings;            /* owned */
  GArray *rows; /* double, calibrated; owned. NULL: too many to be held: they are in the stream */
  gint64 from_row; /* which row of the stream its first one was, from 0; it ends before until_row */
  gsize skip;      /* of `rows`: those at the begin that are too old to belong to it */
  const char *sensors; /* YAML: how raw became these figures; NULL: as sent. The session's */
  gsize columns;
  double from_s, to_s, ended_s; /* ended_s: monotonic, when the end was seen */
  const char *cut_short;        /* what ended it before its end was seen, a key; NULL. Static */
  ew_message *not_armed;        /* why it is not judged; NULL: armed. Owned */
  struct ew_own_curves *own;    /* as learned so far, to be written down; NULL. Owned */
  gint64 engine_id;
  char *near_json;     /* what nearly tripped: an array. Owned */
  struct ew_said said; /* of the set-up since the pull before. Owned */
};

struct ew_pull_result {
  const struct ew_pull_cut *cut;
  gint64 pull_id; /* 0: no pull was found in the cut */
  const struct ew_curve *curve;
  ew_message *why;     /* no pull, or not judged; NULL */
  const char *verdict; /* "gain", "same", ...; NULL when not judged */
  ew_message *line;    /* the verdict in one line; NULL */
  gint64 against;
  const char *
      used; /* what was said of the set-up and went with it, as written (record_setup.h); NULL: nothing */
  double after_s; /* from the pull's end to this answer */
};
typedef void (*ew_pull_says)(const struct ew_pull_result *result, gpointer user);

char *ew_own_curves_key(gint64 engine_id); /* of the setting that keeps them */

struct ew_pull_shop;
struct ew_pull_shop *ew_pull_shop_open(const char *book_path, const struct ew_add_options *options,
                                       ew_pull_says says, gpointer user, GError **error);
void ew_pull_shop_push(struct ew_pull_shop *shop, struct ew_pull_cut *cut); /* takes it */
/* What was said of the set-up in an earlier session and no pull was kept with; as "set ..." and "changed ..." lines. NULL:
 * nothing. The caller frees it. Before the first cut. */
char *ew_pull_shop_said(const struct ew_pull_shop *shop);
/* After the last cut is done. What `said` and the shop have left over is written down for the next session; FALSE with *error when
 * it could not be. */
gboolean ew_pull_shop_close(struct ew_pull_shop *shop, struct ew_said *said, GError **error);
