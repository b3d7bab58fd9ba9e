/* A file into the book: raw bytes, pulls, set-ups and curves in one transaction. */
#pragma once
#include "base/progress.h"
#include "desk/loaded.h"

struct ew_add_options {
  const char *engine;      /* id or name; NULL: the last one, if any */
  const char *const *sets; /* "spark=30 deg", NULL-terminated; NULL: nothing set */
  const char *changed;     /* one line in words */
  const char *purpose;     /* "pull", "heat" or "break-in"; NULL: pull */
  const char *channel_map; /* YAML text; NULL: what is remembered for this source */
  const char
      *at; /* the shop's clock, or ISO 8601 with an offset; NULL: as the file says (desk/when.h) */
  double stamp_s;                 /* Unix seconds: when the file was written; 0: not known */
  gboolean after_stop;            /* the engine was stopped since the last pull */
  gboolean remounted;             /* it was taken off the dyno since */
  const struct ew_method *method; /* NULL: the book's */
  const char *name;               /* what the recording is called; NULL: the file's name */
  const struct ew_new_cut *cut;   /* it was cut out of a live recording; NULL: a file */
  const ew_message *doubt;        /* that holds each pull of it beside others; NULL: none */
  ew_progress progress;           /* by the passes over the file; NULL: none */
  gpointer progress_data;
};

struct ew_added {
  gint64 recording_id;
  GArray *pull_ids; /* gint64 */
  gsize rows, channels;
  char *sha256;
  gboolean known_before; /* the same bytes are in the book already: nothing was added */
  GPtrArray *notes;      /* of messages */
};

gboolean ew_add_file(const struct ew_desk *desk, const char *path,
                     const struct ew_add_options *options, struct ew_added *added, GError **error);
/* options->cut says which rows. Where they have a place in their stream, no file is made of them. */
gboolean ew_add_cut(const struct ew_desk *desk, const char *name,
                    const struct ew_add_options *options, struct ew_added *added, GError **error);
gboolean ew_add_bytes(const struct ew_desk *desk, GBytes *bytes, const char *name,
                      const struct ew_add_options *options, struct ew_added *added, GError **error);
void ew_added_clear(struct ew_added *added);
