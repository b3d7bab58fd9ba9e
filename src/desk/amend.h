/* A fact that was wrong is corrected: curves are computed again from raw, the former readings are kept (book/amend.h).
 *
 *   pulls asked for -> by recording -> [each: alter the kept records -> compute again -> match the parts] -> one transaction
 *
 * A recording is one transaction: whoever stops between two of them, or is killed, has some recordings amended and the rest as
 * they were, and the same request goes on with the rest, as what says so already is left alone.
 * What is said of a whole recording (channel map, units, engine, time) is amended for all its pulls.
 *
 * What follows: weather that was carried is as old as it is by then, and is carried again from the pull before when the time moves;
 * so are run, mounting and the calibration in force (desk/amend_told.h). A new reading is doubted as a new pull is, and held with
 * its question (desk/amend_doubt.h).
 *
 * Parts: when the new reading finds as many pulls as the recording has, the first is the first; else each is the one that shares
 * most time with it. One that finds none is discarded with the reason; what is found besides is added as a new pull.
 *
 * Cost: reading and reducing each recording once a pull, and a transaction of some rows. */
#pragma once
#include "base/progress.h"
#include "desk/loaded.h"

struct ew_amend_ask {
  const gint64 *pulls;
  gsize pulls_count;
  const char *const
      *sets; /* "pressure=985 hPa", NULL-terminated; NULL: none. "pressure=" forgets it */
  const char *const *units;     /* "torque=lb-ft": of channels */
  const char *const *cell_sets; /* "rotor_inertia=0.3 kg.m2": of the cell's record */
  const char *changed;          /* what was changed before it; "": nothing; NULL: stays */
  const char *purpose, *engine;
  const char *at;     /* the shop's clock, or ISO 8601 with an offset, as when a pull is added */
  const char *map;    /* channel map, YAML; "" none; NULL: stays */
  const char *method; /* standard's key; NULL: stays */
  const char *
      calibration; /* "now": the one in force when it ran, as the book has them today; or a number; NULL: stays */
  gboolean station; /* weather as the cell's own station read it (desk/station.h) */
  gboolean undo;    /* the last amendment of each is taken back; none of the above */
  gint64 seen;      /* reading that whoever asks had before his eyes; 0: not told. Of one pull */
  const char *who, *reason;
  ew_progress progress; /* by recordings */
  gpointer progress_data;
  const gint *cancel; /* set from another thread: stops before the next recording */
};

struct ew_amended_row {
  gint64 pull_id, reading, amendment;
  double before_n_m, after_n_m; /* corrected mean torque of the band; after NaN: no longer found */
  GPtrArray *changes;           /* messages */
};
struct ew_amended {
  GArray *rows;     /* struct ew_amended_row */
  GArray *added;    /* gint64: pulls that the new reading found besides */
  guint already;    /* pulls that said so already */
  GArray *held;     /* gint64: pulls, amended or added, that wait for an answer now */
  GPtrArray *notes; /* messages: of files like these, and how they are read from now on */
  GArray *answers;  /* gint64: answers in the book that are on an earlier reading through this */
  gboolean stopped; /* by `cancel`: the rest is as it was */
};
gboolean ew_amend(const struct ew_desk *desk, const struct ew_amend_ask *ask,
                  struct ew_amended *amended, GError **error);
void ew_amended_clear(struct ew_amended *amended);
void ew_amended_json(struct ew_book *book, const struct ew_amended *amended, struct ew_json *json);

/* The members `held` (a message, or null), of a held one `mend` and `asks` (desk/mend.h), and `reading` of a pull. */
void ew_pull_held_json(const struct ew_pull_row *row, struct ew_json *json);

/* `id`, `reading`, `amendments` and `held` (what waited or waits for an answer) of a pull. O(amendments). */
gboolean ew_pull_history_json(struct ew_book *book, gint64 id, enum ew_unit_system units,
                              struct ew_json *json, GError **error);

/* gint64, ids of all pulls from this one on (engine_id 0: of all engines), in the book's order. NULL with *error. */
GArray *ew_pulls_since(struct ew_book *book, gint64 since, gint64 engine_id, GError **error);
