/* A pull, wherever it comes from: the book (by id) or a file in its place. */
#pragma once
#include "book/recompute.h"
#include "judge/compare.h"

struct ew_loaded {
  gint64 id;            /* 0 for a file */
  char *name;           /* "pull 12" or the file's name */
  ew_message *numbered; /* the number as a message; NULL for a file */
  struct ew_curve *curve;
  struct ew_setup setup;
  struct ew_engine engine;
  struct ew_pull_row row; /* zeroed for a file */
  GPtrArray *differs;     /* computed with other records than are kept: messages; NULL: as kept */
  gboolean earlier;       /* its curve was computed by an earlier reduction */
  GBytes *bytes;          /* of a file; NULL for a pull of the book */
  guint part;             /* of its recording or file */
  char *evidence;         /* see ew_desk_evidence; NULL: not asked yet */
  struct ew_bench bench;  /* that its curve was computed with */
  ew_calibrated *calibration;       /* that was applied; NULL: none */
  char *recorder;                   /* what tells its recorder from others; NULL: not known */
  double torque_lag_s, speed_lag_s; /* stated in its channel map; NaN: not stated */
  ew_message *held;                 /* the question that is open; NULL: none */
  struct ew_pull_facts facts;       /* of all this, for the gate (judge/comparable.h) */
};
void ew_loaded_free(struct ew_loaded *loaded);

/* Gathers `facts` from all the rest, again after any of it changed. In alike.c. */
struct ew_desk;
void ew_loaded_facts(const struct ew_desk *desk, struct ew_loaded *loaded);

/* What was given beside the book's own records: a stored pull is then computed again with it. */
struct ew_given {
  gboolean method, standard, cell, engine, map;
  char **sets;      /* "pressure=980 hPa", owned; NULL: none */
  char **cell_sets; /* the same of the cell's record */
};

/* What files are read with, when they stand in the place of pulls. */
struct ew_desk {
  struct ew_given given;
  struct ew_book *book; /* NULL: files only */
  struct ew_method method;
  struct ew_bench bench;
  struct ew_engine engine;
  struct ew_setup setup;
  char *channel_map;                 /* YAML or NULL */
  struct ew_calibrated *calibration; /* that is applied to raw; NULL: none */
};
gboolean ew_desk_open(struct ew_desk *desk, struct ew_book *book,
                      GError **error); /* defaults, cell, last engine */
void ew_desk_clear(struct ew_desk *desk);
/* Its own records of the same book; `to` is cleared by ew_desk_clear. */
void ew_desk_copy(const struct ew_desk *from, struct ew_desk *to);
struct ew_reduce_facts ew_desk_facts(const struct ew_desk *desk);

/* Read a whole file of up to 1 GB. */
GBytes *ew_read_file(const char *path, GError **error);
struct ew_processed *ew_desk_process(const struct ew_desk *desk, GBytes *bytes, const char *path,
                                     GError **error);
/* The same of a table that was read; takes it. */
struct ew_processed *ew_desk_process_table(const struct ew_desk *desk, struct ew_table *table,
                                           const char *name, GError **error);
/* The same of rows at hand. */
struct ew_processed *ew_desk_process_frames(const struct ew_desk *desk,
                                            const struct ew_frames *frames, const char *name,
                                            GError **error);

/* FALSE, and why, when no pull was found. */
gboolean ew_desk_has_pulls(const struct ew_processed *processed, const char *path, GError **error);

/* A stored pull from its raw bytes, with what was given in place of what is kept; what differs is added to
 * `differs`, a message for each record ("method: standard j1349 → none"). Nothing is stored. */
gboolean ew_desk_recompute(const struct ew_desk *desk, gint64 id, struct ew_recomputed *again,
                           GPtrArray *differs, GError **error);
/* What was given in place of the records of one pull; each change is said. For ew_recompute_altered. */
gboolean ew_desk_alter(const struct ew_desk *desk, struct ew_recomputed *again, GPtrArray *differs,
                       GError **error);
/* One message for all fields of a set-up that differ, if any does; as above. */
void ew_setup_altered(GPtrArray *differs, const struct ew_setup *kept,
                      const struct ew_setup *given);
/* `differs_from_kept`: those messages, or null of NULL. */
void ew_differs_json(const GPtrArray *differs, struct ew_json *json);
/* Every pull of a file, or the pull with this id, computed again where anything was given; appended to `into`
 * (struct ew_loaded*). */
gboolean ew_desk_load(const struct ew_desk *desk, const char *what, GPtrArray *into,
                      GError **error);
/* As it is stored, whatever was given. */
struct ew_loaded *ew_desk_load_id(const struct ew_desk *desk, gint64 id, GError **error);

/* Which samples it is made of: the digest of its recording's figures and the part of it. Equal for the same
 * recording under another name, in another format, with another factor or set-up. Reads the recording once. */
const char *ew_desk_evidence(const struct ew_desk *desk, struct ew_loaded *loaded);
