/* What stands in the place of idle samples of a live recording after a while: runs of them at a lower rate.
 *
 *    stream_block:  | 0 |                      | 57 | 58 | 59 |            | 90 |     rows as they were measured
 *    thinned:           [      1 ... 56       ]                [ 60 ... 89 ]          a row each period: mean, least, greatest
 *
 * A run says how many blocks and rows it stands for, and holds a digest over their digests, so that whoever has them elsewhere (a
 * backup, the shop) can show that they are the ones. Its own figures stand under a digest as every block's do. What a rule keeps
 * whole, and when: keep_thin.c. */
#pragma once
#include "book/stream.h"

/* The cell's rule, a fact of the book (setting "thinning"). Without one everything is kept. */
struct ew_thin_rule {
  double whole_s;  /* idle samples stay as they are for so long after their recording ended */
  double period_s; /* then one row stands for so much time */
  double around_s; /* on both sides of a pull, trip, mark, note or photo everything stays */
};
#define EW_THIN_SETTING "thinning"
gboolean ew_thin_rule_check(const struct ew_thin_rule *rule, GError **error);
/* What is kept as the setting. */
char *ew_thin_rule_write(const struct ew_thin_rule *rule);
/* *stands FALSE: there is none. */
gboolean ew_thin_rule_get(struct ew_book *book, struct ew_thin_rule *rule, gboolean *stands,
                          GError **error);

struct ew_thinned_row { /* a run; its texts are the array's */
  gint64 id, thinning_id, recording_id, first_block, last_block;
  gint64 source_rows, source_bytes; /* that it stands for */
  gint64 rows, size;                /* that it has; bytes of them */
  double first_s, last_s;
  char *stored_from, *stored_to; /* when the first and the last of its blocks were stored, UTC */
  char *blocks_sha256;           /* over a line a block: "sequence rows sha256\n" */
  char *sha256;                  /* ew_thinned_digest */
  char *at, *who;                /* when it was thinned, and by whom */
  struct ew_thin_rule rule;
};
/* Of a recording, in order. NULL with *error. */
GArray *ew_thinned_list(struct ew_book *book, gint64 recording_id, GError **error);
void ew_thinned_clear(void *row);

/* Figures of a row of a run, for rows of so many columns: time (the mean), rows that it stands for, then mean, least and greatest of each
 * channel (NaN: it had none). */
gsize ew_thinned_columns(gsize columns);
/* Are these `size` bytes `rows` such rows? */
gboolean ew_thinned_is(gint64 rows, gsize size, gsize columns);
/* Time and means alone, `columns` a row, out of the stored bytes. */
void ew_thinned_means(const void *bytes, gsize rows, gsize columns, double *means);
/* SHA-256 over what the run says and its bytes; head: the digest of its recording's row. */
char *ew_thinned_digest(const char *head, const struct ew_thinned_row *row, const void *bytes);
/* Does it agree with itself: counts that make its source_rows, means between least and greatest, time within its own? */
gboolean ew_thinned_is_sound(const struct ew_thinned_row *row, const void *bytes, gsize columns);

/* Each run's rows, ew_thinned_columns wide. FALSE from `take` ends it. */
gboolean ew_thinned_each(struct ew_book *book, gint64 recording_id, ew_stream_take take,
                         gpointer user, GError **error);

struct ew_thin_sum {
  gint64 recordings, runs, source_rows, rows, source_bytes, bytes;
};
/* Of the whole book. */
gboolean ew_thinned_sum(struct ew_book *book, struct ew_thin_sum *sum, GError **error);

/* How near to a pull its live recording is thinned. */
struct ew_thinned_around {
  gint64 stream_id;         /* 0: it was not cut out of one, or nothing is thinned there */
  double before_s, after_s; /* so much stays whole before it and after it; NaN: all there is */
  struct ew_thin_rule rule; /* of the nearest */
  char *at, *who;           /* of the last thinning */
};
gboolean ew_thinned_near(struct ew_book *book, gint64 cut_id, struct ew_thinned_around *around,
                         GError **error);
void ew_thinned_around_clear(struct ew_thinned_around *around);
