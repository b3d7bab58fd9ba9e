/* A pull, wherever it comes from: the book (by id) or a file that stands in its place. */
#pragma once
#include "book/recompute.h"
#include "judge/compare.h"

struct ew_loaded {
  gint64 id;  /* 0 for a file */
  char *name; /* "pull 12" or the file's name */
  struct ew_curve *curve;
  struct ew_setup setup;
  struct ew_engine engine;
  struct ew_pull_row row; /* zeroed for a file */
  gboolean earlier;       /* its curve was computed by an earlier reduction */
  char *setup_key;        /* canonical set-up without conditions: equal for like pulls */
};
void ew_loaded_free(struct ew_loaded *loaded);

/* What files are read with, when they stand in the place of pulls. */
struct ew_desk {
  struct ew_book *book; /* NULL: files only */
  struct ew_method method;
  struct ew_bench bench;
  struct ew_engine engine;
  struct ew_setup setup;
  char *channel_map; /* YAML or NULL */
};
gboolean ew_desk_open(struct ew_desk *desk, struct ew_book *book,
                      GError **error); /* defaults, cell, last engine */
void ew_desk_clear(struct ew_desk *desk);
struct ew_reduce_facts ew_desk_facts(const struct ew_desk *desk);

/* Read a whole file of up to 1 GB. */
GBytes *ew_read_file(const char *path, GError **error);
struct ew_processed *ew_desk_process(const struct ew_desk *desk, GBytes *bytes, const char *path,
                                     GError **error);

/* Every pull of a file, or the pull with this id; appended to `into` (struct ew_loaded*). */
gboolean ew_desk_load(const struct ew_desk *desk, const char *what, GPtrArray *into,
                      GError **error);
struct ew_loaded *ew_desk_load_id(const struct ew_desk *desk, gint64 id, GError **error);

/* What the cell repeats to, learned from like pulls of the book: of one engine, or of all (0). Bands are
 * shares of each pull's top speed. Pulls listed in `without` (struct ew_loaded*, may be NULL) are left
 * out, so that a comparison does not lend itself its own scatter. */
struct ew_learned {
  struct ew_spread levels[EW_LEVELS_COUNT];
  double drift_mean, drift_sd; /* a pull, from runs of three like pulls or more; NaN when too few */
};
struct ew_learned ew_desk_history(const struct ew_desk *desk, gint64 engine_id,
                                  const GPtrArray *without);
char *ew_setup_key(const struct ew_setup *setup);
