/* What the book holds, as records. Ids are positive and a book's own (each row has a name that holds everywhere, origin.h).
 *
 * Reading is for every room. What writes is for this one (others have keep.h) and inside a transaction; it logs itself, but
 * for the blocks of a live recording and for what is worked out from other rows (figures, life). */
#pragma once
#include "book/book.h"
#include "pull/process.h"

/* No engine, recording, build, calibration, file or note: settings do not count. */
gboolean ew_book_is_empty(struct ew_book *book, gboolean *empty, GError **error);
/* 32 hex digits made with the book and carried by its copies. NULL with *error. */
char *ew_book_identity(struct ew_book *book, GError **error);

/* *value, to be freed, is NULL when it is not set and with *error. */
gboolean ew_setting_get(struct ew_book *book, const char *key, char **value, GError **error);
gboolean ew_setting_set(struct ew_book *book, const char *key, const char *value, GError **error);

struct ew_engine_row {
  gint64 id;
  char *name, *yaml;
};
gint64 ew_engine_add(struct ew_book *book, const char *name, const char *yaml,
                     GError **error); /* or replace */
/* By id or name; with NULL the one in the cell: as put there, else the last added. Id 0, with a cleared row: there is none. */
gboolean ew_engine_find(struct ew_book *book, const char *name, struct ew_engine_row *row,
                        GError **error);
/* The same; refused when there is none. */
gboolean ew_engine_get(struct ew_book *book, const char *name, struct ew_engine_row *row,
                       GError **error);
/* char*, in the order they were added. NULL with *error. */
GPtrArray *ew_engine_names(struct ew_book *book, GError **error);
void ew_engine_row_clear(struct ew_engine_row *row);

struct ew_recording_row {
  gint64 id, engine_id, rows, channels;
  char *name, *sha256, *channel_map, *added_at;
  GBytes *bytes;     /* NULL in lists, and where there are frames */
  char *measured_at; /* NULL: not stated; it was added then, or later */
  char *recorder;    /* the profile it was read by, "name.version"; NULL: none */
  char *clock;       /* key: where measured_at comes from; NULL: an earlier program did not say */
  struct ew_frames
      *frames; /* of a pull whose rows are in its live recording (cut.h); NULL: a file */
};
gint64 ew_recording_add(struct ew_book *book, const struct ew_recording_row *row, double run_s,
                        GError **error);
/* With its bytes (of a live one the text table of its rows) or its frames: one of the two. O(bytes). */
gboolean ew_recording_get(struct ew_book *book, gint64 id, struct ew_recording_row *row,
                          GError **error);
/* The file that it is, or that its frames are written as: its digest is row->sha256, but for a live one. To be unreffed. NULL
 * with *error: its rows could not be read. */
GBytes *ew_recording_file(const struct ew_recording_row *row, GError **error);
/* ew_process of one that ew_recording_get gave. */
struct ew_processed *ew_recording_process(const struct ew_recording_row *row,
                                          const struct ew_channel_map *map,
                                          const struct ew_reduce_facts *facts, GError **error);
/* What the table says of it, without its bytes (NULL); the rows of a live one are counted there when it has ended. O(1). */
gboolean ew_recording_facts(struct ew_book *book, gint64 id, struct ew_recording_row *row,
                            GError **error);
/* How it is read, without its bytes: the profile and the channel map, each NULL where there is none. */
gboolean ew_recording_told(struct ew_book *book, gint64 id, char **recorder, char **channel_map,
                           GError **error);
/* *id 0 when it is not there. */
gboolean ew_recording_find(struct ew_book *book, const char *sha256, gint64 *id, GError **error);
/* A recording that had no pulls is understood again: its bytes stay, the channel map is the new one. */
gboolean ew_recording_reread(struct ew_book *book, gint64 id, const struct ew_recording_row *row,
                             GError **error);
/* gint64, in the order they were added; live ones (book/stream.h) too. */
GArray *ew_recording_ids(struct ew_book *book, GError **error);
gboolean ew_recording_has_pulls(struct ew_book *book, gint64 id, gboolean *has, GError **error);
void ew_recording_row_clear(struct ew_recording_row *row);

struct ew_pull_row {
  gint64 id, recording_id, engine_id;
  int part, run, mounting;
  char *kind, *at, *day, *purpose, *setup, *changed, *discarded;
  char *
      tripped; /* "shut down: oil pressure lost": the gravest that tripped in it; NULL: none. Not stored
                  * with the pull: it follows from the trips (book/trip.h) */
  char *
      held; /* the first, and gravest, finding that waits for an answer: ew_message_write (book/hold.h); NULL: none.
               * Follows, too */
  char *
      told; /* where each of its facts comes from: a JSON array (pull/told.h); NULL is none, "[]" */
  gint64 reading; /* 1, and one more with each amendment (book/amend.h) */
  double top_rpm, band_mean_n_m;
  gboolean
      invented; /* cut out of a stream of the practice cell: no engine ran for it. Follows, too */
};
gint64 ew_pull_add(struct ew_book *book, const struct ew_pull_row *row, GError **error);
struct ew_pull_place { /* of a pull that is in the book: its numbers from now on */
  gint64 id;
  int run, mounting;
  int was_run, was_mounting; /* that these follow from */
};
/* Have all of them still the numbers that the new ones follow from? O(count). */
gboolean ew_pulls_unmoved(struct ew_book *book, const struct ew_pull_place *places, gsize count,
                          gboolean *still, GError **error);
/* A pull that ran before it, and is added or amended only now, began another run or mounting (desk/place.h). Not a new reading: nothing
 * of the pull itself was told otherwise. */
gboolean ew_pull_move(struct ew_book *book, const struct ew_pull_place *place, GError **error);
gboolean ew_pull_get(struct ew_book *book, gint64 id, struct ew_pull_row *row, GError **error);
/* All pulls of an engine (0: of all), in the order in which they ran: struct ew_pull_row, cleared by the array. NULL with
 * *error; who asks without one gets what could be read. */
GArray *ew_pull_list(struct ew_book *book, gint64 engine_id, GError **error);
/* The last `most` of that list, in the same order. O(pulls) for finding them, but what costs (trips, holds) is asked of these alone. */
GArray *ew_pull_newest(struct ew_book *book, gint64 engine_id, guint most, GError **error);
/* How many that list has. O(pulls) within the store. */
gboolean ew_pull_count(struct ew_book *book, gint64 engine_id, gint64 *count, GError **error);
/* Did an engine run for any of them, or are all of the practice cell (also where there are none)? Ends at the first that is real. */
gboolean ew_pull_any_real(struct ew_book *book, gint64 engine_id, gboolean *any, GError **error);
/* The last one added of an engine (0: of all), discarded or not; FALSE with a cleared row: none. O(log pulls). */
gboolean ew_pull_last(struct ew_book *book, gint64 engine_id, struct ew_pull_row *row,
                      GError **error);
/* Does it count where nobody named it: in reports, in history, as the one to judge against? Not when it was
 * discarded, when it is held, when a shut down or a back off tripped in it (what was found afterwards does not make it
 * proof of anything), or when it was run for heat or break-in. */
gboolean ew_pull_counts(const struct ew_pull_row *row);
gboolean ew_pull_discard(struct ew_book *book, gint64 id, const char *reason, GError **error);
void ew_pull_row_clear(struct ew_pull_row *row);

struct ew_curve_row {
  char *method, *cell, *engine, *digest;
  GBytes *bytes;
  char *program;     /* that computed it; ew_curve_put writes its own, and its reduction */
  char *calibration; /* what was applied to raw, as YAML; NULL: nothing */
  gint64 reduction;  /* EW_REDUCTION of that program; 0: of before it was counted */
};
/* Was it computed by another reduction than this program's? */
gboolean ew_curve_is_earlier(const struct ew_curve_row *row);
gboolean ew_pull_mean_put(struct ew_book *book, gint64 id, double band_mean_n_m, GError **error);
gboolean ew_curve_put(struct ew_book *book, gint64 pull_id, const struct ew_curve_row *row,
                      GError **error);
gboolean ew_curve_get(struct ew_book *book, gint64 pull_id, struct ew_curve_row *row,
                      GError **error);
void ew_curve_row_clear(struct ew_curve_row *row);

struct ew_verdict_row {
  gint64 id, engine_id;
  char *at, *question, *pair;
  char *pulls; /* which pulls were asked about: ew_asked_write */
  char *says,
      *json; /* the answer: ew_message_write, and the members of its JSON without sentences */
  char *
      readings; /* of those pulls, "8.1,10.2:9.1". NULL: of before pulls were amended, or, when it is added, those of now */
  gboolean earlier; /* one of those pulls has a later reading now. Not stored */
};
/* "8,10:9": pulls 8 and 10 against 9; b may be empty. The same question gives the same key. */
char *ew_asked_write(const GArray *a, const GArray *b);
/* Adds to `a` and `b`; whatever else stands there is stepped over. */
void ew_asked_read(const char *text, GArray *a, GArray *b);
ew_message *ew_verdict_asked(const struct ew_verdict_row *row);
/* What was answered; the sentence of an earlier program as such. */
ew_message *ew_verdict_says(const struct ew_verdict_row *row);
gboolean ew_verdict_add(struct ew_book *book, const struct ew_verdict_row *row, GError **error);
/* Earlier looks at this pair that had other pulls. O(log answers + looks). */
gboolean ew_verdict_looks(struct ew_book *book, const char *pair, const char *pulls, int *looks,
                          GError **error);
GArray *ew_verdict_list(struct ew_book *book, gint64 engine_id, GError **error);

/* *yaml NULL: none is remembered; put with NULL, it is forgotten. */
gboolean ew_channel_map_get(struct ew_book *book, const char *source, char **yaml, GError **error);
gboolean ew_channel_map_put(struct ew_book *book, const char *source, const char *yaml,
                            GError **error);

struct ew_calibration_row {
  gint64 id;
  char *kind, *at, *valid_until, *json, *note; /* kind: "calibration", "zero", "check weight" */
  double value;
};
gboolean ew_calibration_add(struct ew_book *book, const struct ew_calibration_row *row,
                            GError **error);
/* Of which channel: torque, unless its JSON names another. */
enum ew_channel ew_calibration_channel(const struct ew_calibration_row *row);
GArray *ew_calibration_list(struct ew_book *book, const char *kind,
                            GError **error); /* oldest first */
/* Members of one row but `json`; an ew_json_row. */
void ew_calibration_row_json(const void *row, struct ew_json *json);
/* What is missing or overdue; *overdue NULL when the last calibration is valid. */
gboolean ew_calibration_overdue(struct ew_book *book, ew_message **overdue, GError **error);
