/* What is doubted of a pull before it is kept: pull/plausible.h with what the book knows of the pulls before. The same for a file,
 * a live cut, an amendment and a look over the whole book. */
#pragma once
#include "desk/loaded.h"
#include "pull/plausible.h"

/* What went before an instant, as far as doubts need it. */
struct ew_before {
  struct ew_loaded *loaded; /* the last pull of the engine that counts; NULL: none */
  struct ew_bench bench;    /* it was computed with; of `loaded` only */
  double pressure_pa,
      age_s; /* the last station pressure known in this cell, and how long before; NaN: none */
};
/* Of the engine, at `unix_s`, leaving out pull `except` (0: none). `rows`: all pulls of the book (ew_pull_list of 0). A curve or
 * two are read; O(rows). FALSE with *error when the book cannot be read. */
gboolean ew_before_of(const struct ew_desk *desk, const GArray *rows, gint64 engine_id,
                      double unix_s, gint64 except, struct ew_before *before, GError **error);
void ew_before_clear(struct ew_before *before);

/* Doubts (ew_implausible) of one part of what was processed with `desk`'s records. */
GPtrArray *ew_doubts_of(const struct ew_desk *desk, const struct ew_processed *processed,
                        guint part, const struct ew_before *before);

/* Typed with this pull and recorded in it, and far apart: added to `doubts`. */
struct ew_carried;
void ew_doubt_typed(const struct ew_carried *carried, const struct ew_setup *setup,
                    const struct ew_processed *processed, guint part, GPtrArray *doubts);

/* Typed or recorded with this pull, and far from what the cell's own station read: added to `doubts`. */
void ew_doubt_station(const struct ew_carried *carried, const struct ew_setup *setup,
                      const struct ew_processed *processed, guint part, GPtrArray *doubts);

/* The curve of a sweep that is one of the book's to a tenth of its own scatter, other pulls of the engine (pull `except` left out), and a
 * table that this program exported: evidence a second time. Added to `doubts`. Few curves are read: of pulls with nearly that mean. O(rows). */
void ew_doubt_second_time(const struct ew_desk *desk, const GArray *rows, gint64 engine_id,
                          const struct ew_processed *processed, guint part, GPtrArray *doubts);

/* Less than a doubt: a barometer more than 15 hPa away from the last ten pulls of the book; NULL when it is not. */
ew_message *ew_barometer_moved(const struct ew_desk *desk, const GArray *rows,
                               const struct ew_processed *processed);
/* An array `held`: what waits for an answer about these pulls (gint64), each with `pull`, `finding` and `mend`, the command. */
void ew_held_json(struct ew_book *book, const GArray *ids, struct ew_json *json);
