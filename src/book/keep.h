/* Everything that may be written into a book: one verb a change, each a whole transaction.
 *
 * A verb reads what it depends on inside its transaction, logs who changed what, and runs again by itself when the store
 * says that another writer came between. It answers TRUE (or an id above 0) when all of it is kept, else FALSE (or 0)
 * with *error and nothing is kept. Inside ew_book_as_one a verb is a step of that one transaction.
 *
 * What is handed in is only read; what is handed out belongs to the caller. Reading has its own headers: store.h (pulls,
 * curves, engines, answers), stream.h (live recordings), build.h, attachment.h, note.h, curve_note.h, found.h, trip.h, engines.h, hold.h, amend.h,
 * recorder.h. */
#pragma once
#include "book/change.h"
#include "book/amend.h"
#include "book/attachment.h"
#include "book/build.h"
#include "book/cut.h"
#include "book/hold.h"
#include "book/job.h"
#include "book/recorder.h"
#include "book/store.h"
#include "book/stream.h"
#include "book/thin.h"
#include "book/trip.h"

/* ---- the shop ---- */
enum ew_setting_when {
  EW_SETTING_ALWAYS,
  EW_SETTING_UNLESS_SET, /* a value that is there already stays */
  EW_SETTING_IF_STILL /* only when the value is still `was` (NULL: none); else an answer of no (EW_ERROR_NO) */
};
struct ew_setting {
  const char *key, *value;
  enum ew_setting_when when;
  const char *was;
};
gboolean ew_keep_settings(struct ew_book *book, const struct ew_setting *settings, gsize count,
                          GError **error);
gboolean ew_keep_setting(struct ew_book *book, const char *key, const char *value, GError **error);
/* Something that was done and changes no row: a backup, a demo. */
gboolean ew_keep_log(struct ew_book *book, const char *what, const char *detail, GError **error);
gboolean ew_keep_calibration(struct ew_book *book, const struct ew_calibration_row *row,
                             GError **error);

/* ---- engines and builds ---- */
struct ew_new_engine {
  const char *name, *yaml;
  gboolean if_still; /* only when the engine of this name still says `was` (NULL: there is none) */
  const char *was;
  const struct ew_setting *settings; /* that come with it, such as its cell; may be none */
  gsize settings_count;
};
/* New, or in place of what its name said before: its id. */
gint64 ew_keep_engine(struct ew_book *book, const struct ew_new_engine *engine, GError **error);
/* This engine is in the cell from now on; *before: the id of the one that was, 0 for none. */
gboolean ew_keep_engine_in_cell(struct ew_book *book, gint64 id, gint64 *before, GError **error);

struct ew_new_file {
  const char *name, *note;
  GBytes *bytes;
};
struct ew_new_build {
  const char *engine;                    /* name or id of one that is in the book; or NULL: */
  const char *engine_name, *engine_yaml; /* added, unless the book has one of that name */
  gboolean *engine_added;                /* set: whether it was added; NULL: not asked */
  const char *name;                      /* of the build */
  gboolean anew;                         /* begin one; else the last of that name goes on */
  /* Adds records to `build`, which holds what stands already. Writes nowhere else; may be called again with a fresh
   * one. FALSE with *error: nothing is kept. */
  gboolean (*fill)(struct ew_build *build, const struct ew_engine_row *engine, gpointer user,
                   GError **error);
  gpointer user;
  const struct ew_new_file *files;
  gsize files_count;
};
struct ew_kept_builds {
  guint added, there; /* records that were new, and those that stood there already */
};
gboolean ew_keep_builds(struct ew_book *book, const struct ew_new_build *builds, gsize count,
                        struct ew_kept_builds *kept, GError **error);
struct ew_kept_record {
  gint64 id;
  gboolean added; /* FALSE: the very same stood there already */
};
gboolean ew_keep_build_record(struct ew_book *book, gint64 build_id, enum ew_build_kind kind,
                              const void *record, struct ew_kept_record *kept, GError **error);
gboolean ew_keep_build_withdrawn(struct ew_book *book, gint64 record_id, const char *why,
                                 GError **error);

/* ---- the customer's jobs (job.h) ---- */
/* A job of a name that no other has; `at` as a record has it. Its id, 0 with *error. */
gint64 ew_keep_job(struct ew_book *book, const char *name, const char *at, GError **error);
/* job_id 0: of the shop, a price table. The record's `at`, NULL: now; `id` of its mark is set. */
gboolean ew_keep_job_record(struct ew_book *book, gint64 job_id, enum ew_job_kind kind,
                            void *record, GError **error);
gboolean ew_keep_job_withdrawn(struct ew_book *book, gint64 record_id, const char *why,
                               GError **error);

/* ---- recordings, pulls, answers ---- */
struct ew_new_pull {
  struct ew_pull_row row; /* recording_id is set here */
  struct ew_curve_row curve;
  const GPtrArray
      *findings; /* messages that hold it until they are answered (hold.h); NULL: none */
};
struct ew_new_cut { /* of a live recording */
  gint64 recording_id;
  double from_s, to_s;
  const char *near_json;          /* what nearly tripped */
  const struct ew_frames *frames; /* its rows */
  const struct ew_cut_place
      *place; /* where they are in the live recording, when that has them all; NULL: they are
                                     * kept as a file beside it */
};
struct ew_new_recording {
  struct ew_recording_row row;
  double run_s;
  const char *figures; /* digest of what its table says, however it was saved; NULL: no table */
  const struct ew_pull_row
      *last; /* the last pull of the engine as its set-up was carried forward from; id 0: none */
  const struct ew_new_pull *pulls;
  gsize pulls_count;
  const struct ew_pull_place
      *moved; /* pulls that ran after these, were added before them, and are numbered again */
  gsize moved_count;
  const char *map_source, *map; /* a channel map to remember for files of this kind; NULL: none */
  const struct ew_new_cut *cut; /* NULL: a file */
  /* The book's state before anything was read for it (change.h); NULL: only `last` and `moved` are looked at. */
  const struct ew_last_kept *before;
  /* When another pull came after `last`, or anything was kept since `before`: NULL, and the answer is `stale`. Else called, once nobody else can write, to
   * prepare all of the above again. */
  gboolean (*prepare)(struct ew_new_recording *recording, gpointer user, GError **error);
  gpointer user;
};
struct ew_kept_recording {
  gint64 id;
  GArray *pull_ids;       /* gint64; to be unreffed */
  gboolean stale;         /* nothing was kept: prepare it again */
  gboolean known_bytes;   /* nothing was added: the same bytes are in the book already */
  gboolean known_figures; /* nothing was added: so are the same figures, saved in another way */
};
/* A recording with its pulls and their curves. One that had no pulls before is understood again. Of a cut that has a
 * place the bytes are not stored, only their digest. */
gboolean ew_keep_recording(struct ew_book *book, struct ew_new_recording *recording,
                           struct ew_kept_recording *kept, GError **error);
/* Discard a pull with a reason; "" takes it back. */
gboolean ew_keep_discard(struct ew_book *book, gint64 pull_id, const char *reason, GError **error);
gboolean ew_keep_answer(struct ew_book *book, const struct ew_verdict_row *row, GError **error);

/* ---- doubted and corrected (hold.h, amend.h) ---- */
gboolean ew_keep_hold(struct ew_book *book, gint64 pull_id, const GPtrArray *findings, guint *added,
                      GError **error);
/* Held pulls are right as they are: all of them or none. */
gboolean ew_keep_right(struct ew_book *book, const gint64 *pulls, gsize count, const char *who,
                       const char *reason, GError **error);
struct ew_new_amendment {
  const struct ew_amended_pull *pulls; /* of one recording */
  gsize pulls_count;
  const struct ew_recording_row *recording; /* what is stated about all of it; NULL: stays */
  const struct ew_new_pull *more; /* that the new reading finds besides; recording_id is set */
  gsize more_count;
  const struct ew_pull_place
      *moved; /* other pulls that are numbered again, as this one ran at another time; NULL: none */
  gsize moved_count;
  const char
      *map_source; /* files that look so are read by the recording's map from now on; NULL: none */
  const char *recorder, *profile; /* its further version, YAML; NULL: none */
  const char *who;                /* NULL or empty: who is known to the system */
  const char *reason;
};
/* `ids`: gint64, of the amendments, in the order of the pulls; `more` (may be NULL): of pulls that were added. */
gboolean ew_keep_amendment(struct ew_book *book, const struct ew_new_amendment *amendment,
                           GArray *ids, GArray *more, GError **error);
/* A first or a further version of a profile: its id. With a fingerprint, recordings that look so are this recorder's. */
gint64 ew_keep_recorder(struct ew_book *book, const char *name, const char *yaml, const char *who,
                        const char *fingerprint, GError **error);
gboolean ew_keep_recorder_withdrawn(struct ew_book *book, const char *name, const char *why,
                                    GError **error);
gboolean ew_keep_recorder_mark(struct ew_book *book, const char *fingerprint, const char *name,
                               GError **error);

/* ---- while it runs ---- */
struct ew_live_part { /* rows of one source, in their order */
  gint64 id;          /* 0: a recording begins with it, of `facts` */
  const struct ew_stream_facts *facts;
  gint64 sequence;      /* of its next block */
  const double *values; /* rows x columns */
  gsize rows, columns;
  const char *end;               /* how it ended; NULL: it goes on */
  gint64 kept_id, kept_sequence; /* set here */
};
struct ew_live_place {
  const struct ew_live_part *part; /* of this transaction; NULL: */
  gint64 recording_id;             /* of an earlier one; 0: nothing was ever recorded from it */
  double time_s;                   /* NaN: not known */
};
struct ew_live_note {
  const char *key, *text;             /* a setting; without key the text of a mark at places[0] */
  const struct ew_trip_row *trip;     /* an alarm that tripped, at each of its places; NULL: none */
  const struct ew_live_place *places; /* without any known recording a mark or trip is not kept */
  gsize places_count;
};
/* Rows and what happened meanwhile, in one transaction. O(bytes). */
gboolean ew_keep_live(struct ew_book *book, struct ew_live_part *parts, gsize parts_count,
                      const struct ew_live_note *notes, gsize notes_count, GError **error);
/* Idle samples of an ended recording become rows at the rule's rate (thin.h); done->state says whether, and why not. Refused while
 * anything is recorded into the book, and where a block is damaged. O(bytes of what goes), others wait meanwhile. */
gboolean ew_keep_thinned(struct ew_book *book, gint64 recording_id, const struct ew_thin_rule *rule,
                         double now_s, struct ew_thin_done *done, GError **error);
/* A recording whose recorder died is over. */
gboolean ew_keep_live_end(struct ew_book *book, gint64 id, const char *how, GError **error);

/* ---- what people saw ---- */
gint64 ew_keep_attachment(struct ew_book *book, const struct ew_owner *owner, const char *name,
                          GBytes *bytes, const char *note, const char *taken_at, GError **error);
/* `why` NULL: it stands again. */
gboolean ew_keep_attachment_withdrawn(struct ew_book *book, gint64 id, const char *why,
                                      GError **error);
/* The same text at the same time gives the first id; *added FALSE then. */
gint64 ew_keep_note(struct ew_book *book, const char *at, const char *text, gboolean *added,
                    GError **error);
gboolean ew_keep_note_withdrawn(struct ew_book *book, gint64 id, const char *why, GError **error);
/* On a curve (curve_note.h). */
gint64 ew_keep_curve_note(struct ew_book *book, gint64 pull_id, double speed_rpm, const char *text,
                          const char *who, gboolean *added, GError **error);
gboolean ew_keep_curve_note_withdrawn(struct ew_book *book, gint64 id, const char *why,
                                      GError **error);
/* What was found, of several trips or pulls (found.h) at once. */
gboolean ew_keep_found(struct ew_book *book, const char *belongs, const gint64 *owners, gsize count,
                       const char *text, const char *who, GError **error);
gboolean ew_keep_found_withdrawn(struct ew_book *book, const char *belongs, const gint64 *owners,
                                 gsize count, const char *why, GError **error);
