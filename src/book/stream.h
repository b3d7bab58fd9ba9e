/* Live recordings: rows appended in blocks while they are measured, each append durable when its
 * transaction has been committed.
 *
 * A stream has an id in the table of recordings; ew_recording_get gives it as a text table, made of
 * its blocks. A block holds little-endian doubles, row-major: the time, then one value a channel
 * (NaN: none), as they came from the source, before calibration. Blocks are never changed; idle ones may become thinned runs (thinned.h). */
#pragma once
#include "book/book.h"
#include "pull/sensor.h"

/* What "stored" means for this connection: with `power`, a commit outlives a power cut (the log is
 * synced); without, it outlives the program only. Automatic checkpoints are switched off: call
 * ew_book_checkpoint from another connection. */
gboolean ew_book_live(struct ew_book *book, gboolean power, GError **error);
/* Moves what is in the log into the file, as far as readers allow, without hindering a writer; with
 * `all` waits for the others and empties the log. */
gboolean ew_book_checkpoint(struct ew_book *book, gboolean all, GError **error);

struct ew_stream_facts {
  gint64 engine_id;
  const char *name, *source, *durability;
  char *const *names, *const *units; /* `channels` of each */
  guint channels;
};
/* Inside a transaction; 0 on error. */
gint64 ew_stream_begin(struct ew_book *book, const struct ew_stream_facts *facts, GError **error);
/* Inside a transaction: block number `sequence` (from 0) of `rows` rows of `columns` doubles. */
gboolean ew_stream_append(struct ew_book *book, gint64 id, gint64 sequence, const double *values,
                          gsize rows, gsize columns, GError **error);
/* Inside a transaction. how: "ended", "stopped", "header changed", "crashed". */
gboolean ew_stream_end(struct ew_book *book, gint64 id, const char *how, GError **error);

struct ew_stream_row {
  gint64 id, rows, blocks;         /* as they were measured */
  gint64 thinned_rows, thinned_to; /* of these rows: no longer there; rows that stand for them */
  char *source, *began_at, *ended_at, *last_stored_at;
  char *how, *durability; /* how it ended; NULL: it goes on, or nobody ended it */
  double last_s;          /* time of the last row */
};
/* Streams that nobody ended: a recorder died. struct ew_stream_row, cleared by the array. */
GArray *ew_stream_unfinished(struct ew_book *book, GError **error);
GArray *ew_stream_list(struct ew_book *book, GError **error); /* every one, in the same way */
gboolean ew_stream_is(struct ew_book *book, gint64 recording_id, gboolean *is, GError **error);
/* That it has now: of what was thinned, those that stand for it. */
gboolean ew_stream_rows(struct ew_book *book, gint64 id, gint64 *rows, GError **error);

/* The bytes of a live recording's row: what it is, unlike any other. Its digest holds began_at, source and channels (as
 * the table `stream` has them) for ever. */
char *ew_stream_head(const char *began_at, const char *source, const char *channels);
/* Are these `size` bytes `rows` rows, one at least, of `columns` figures? */
gboolean ew_stream_is_block(gint64 rows, gsize size, gsize columns);

/* Each block in turn: rows x columns. Of what was thinned (thinned.h) the means, at their mean time. FALSE from `take` stops. */
typedef gboolean (*ew_stream_take)(const double *values, gsize rows, gsize columns, gpointer user);
gboolean ew_stream_each(struct ew_book *book, gint64 id, ew_stream_take take, gpointer user,
                        GError **error);
/* The same, but only rows whose time is from `from_s` to `to_s`; one call a run of such rows. */
gboolean ew_stream_between(struct ew_book *book, gint64 id, double from_s, double to_s,
                           ew_stream_take take, gpointer user, GError **error);
/* As the source called them; free with ew_source_channels_clear. */
gboolean ew_stream_channels(struct ew_book *book, gint64 id, struct ew_source_channels *channels,
                            GError **error);
/* Names and units, "Oil pressure [bar]", after "Time [s]"; NULL-terminated, g_strfreev. */
char **ew_stream_headings(struct ew_book *book, gint64 id, GError **error);
/* The whole stream as a text table; refuses one of over 20 million figures. */
GBytes *ew_stream_table(struct ew_book *book, gint64 id, GError **error);
/* The same, written to a file block by block: of any length. */
gboolean ew_stream_write(struct ew_book *book, gint64 id, const char *path, GError **error);
char **ew_stream_headings_of(char *const *names, char *const *units, guint channels);

/* Inside a transaction. */
gboolean ew_mark_add(struct ew_book *book, gint64 id, double time_s, const char *text,
                     GError **error);
struct ew_mark_row {
  gint64 recording_id;
  double time_s;
  char *at, *text;
};
/* A mark of the program, not of a person: the calibration used, YAML behind this line. What a person writes is one line. */
#define EW_MARK_SENSORS "sensors\n"
gboolean ew_mark_is_calibration(const struct ew_mark_row *row);
/* Those of one recording, oldest first; texts are the array's. */
GArray *ew_mark_list(struct ew_book *book, gint64 id, GError **error);
