/* What every handler of the interface works with, and the table of what can be asked. */
#pragma once
#include "book/change.h"
#include "desk/alike.h"
#include "desk/loaded.h"
#include "serve/http.h"

struct ew_live;
struct ew_serve_options;
struct ew_predictor;
struct ew_here;
struct ew_sources;
struct ew_answers;

/* How long an answer takes, and what it may wait for. CONTROL: it steers the session and waits for nothing that is asked of the book. AT_ONCE:
 * no book, no disk. WRITE: the book's one writer. KEPT: a slow answer that holds until the book changes. */
#define EW_PACES(X) X(AT_ONCE) X(CONTROL) X(WRITE) X(READ) X(SLOW) X(KEPT)
enum ew_pace {
#define X(id) EW_PACE_##id,
  EW_PACES(X)
#undef X
};

/* The queues behind the paces, a thread each: what a far device reads, however slow, is not in the way of this machine's person. */
enum ew_queue {
  EW_QUEUE_AT_ONCE,
  EW_QUEUE_CONTROL,
  EW_QUEUE_WRITE,
  EW_QUEUE_READ_HERE,
  EW_QUEUE_SLOW_HERE,
  EW_QUEUE_READ_FAR,
  EW_QUEUE_SLOW_FAR,
  EW_QUEUES_COUNT
};

/* What a handler works with; one for each queue, with a connection to the book of its own. */
struct ew_service {
  struct ew_book *book;    /* of this queue's thread; NULL where a queue has no business with it */
  struct ew_answers *kept; /* of this queue; or NULL */
  struct ew_http *http;
  struct ew_live *live; /* the practice cell's feed; of the main thread */
  struct ew_predictor *predictor;
  struct ew_devices *devices;
  struct ew_here *here; /* the secret of this machine's own person */
  struct ew_sources *sources;
  const char *identity;        /* of the book */
  const GPtrArray *pair_again; /* names of devices that an earlier program kept in the book */
  gboolean lan, tls;
  GPtrArray *addresses; /* char*: of this page on the network */
  const char *practice; /* YAML of a practice day, for the live view; NULL: none */
  const struct ew_serve_options *options; /* what the shipper says */
  /* what the cell repeats to, kept between requests until a pull, its set-up or its curve changes */
  struct ew_learned learned;
  struct ew_change learned_at; /* of the whole book: while it stays, nothing need be read */
  char *learned_from;          /* digest of what it was learned from; NULL: not learned yet */
};

/* verb, path, handler; whether it needs the right to write: it changes something, or hands out the whole book; its pace */
#define EW_ROUTES(X)                                                                               \
  X(GET, "/api/v1/book", book, FALSE, READ)                                                        \
  X(GET, "/api/v1/words", words, FALSE, READ)                                                      \
  X(POST, "/api/v1/demo", demo, TRUE, WRITE)                                                       \
  X(POST, "/api/v1/settings", settings, TRUE, WRITE)                                               \
  X(GET, "/api/v1/logo", logo, FALSE, READ)                                                        \
  X(POST, "/api/v1/logo", logo_put, TRUE, WRITE)                                                   \
  X(GET, "/api/v1/pulls", pulls, FALSE, KEPT)                                                      \
  X(GET, "/api/v1/curves", curves, FALSE, KEPT)                                                    \
  X(GET, "/api/v1/pulls/{id}/explain", explain, FALSE, KEPT)                                       \
  X(GET, "/api/v1/pulls/{id}/origins", origins, FALSE, KEPT)                                       \
  X(GET, "/api/v1/curve-notes", curve_notes, FALSE, READ)                                          \
  X(POST, "/api/v1/pulls/{id}/notes", curve_note_add, TRUE, WRITE)                                 \
  X(POST, "/api/v1/curve-notes/{id}/withdraw", curve_note_withdraw, TRUE, WRITE)                   \
  X(POST, "/api/v1/pulls/{id}/discard", discard, TRUE, WRITE)                                      \
  X(POST, "/api/v1/pulls/{id}/amend", amend, TRUE, WRITE)                                          \
  X(POST, "/api/v1/pulls/{id}/right", right, TRUE, WRITE)                                          \
  X(GET, "/api/v1/pulls/{id}/history", history, FALSE, READ)                                       \
  X(GET, "/api/v1/answers", answers, FALSE, READ)                                                  \
  X(POST, "/api/v1/answers/again", again, TRUE, WRITE)                                             \
  X(GET, "/api/v1/trips", trips, FALSE, READ)                                                      \
  X(POST, "/api/v1/found", found, TRUE, WRITE)                                                     \
  X(POST, "/api/v1/recordings", recordings, TRUE, WRITE)                                           \
  X(POST, "/api/v1/compare", compare, TRUE, WRITE)                                                 \
  X(POST, "/api/v1/sweep", sweep, TRUE, WRITE)                                                     \
  X(GET, "/api/v1/pulls/{id}/step-up", step_up, FALSE, KEPT)                                       \
  X(GET, "/api/v1/pulls/{id}/channels", channels, FALSE, KEPT)                                     \
  X(GET, "/api/v1/method", method, FALSE, READ)                                                    \
  X(PUT, "/api/v1/method", method_put, TRUE, WRITE)                                                \
  X(POST, "/api/v1/method/try", method_try, FALSE, SLOW)                                           \
  X(GET, "/api/v1/day", day, FALSE, KEPT)                                                          \
  X(GET, "/api/v1/shop", shop, FALSE, SLOW)                                                        \
  X(GET, "/api/v1/sending", sending, FALSE, READ)                                                  \
  X(GET, "/api/v1/customer-jobs", customer_jobs, TRUE, READ)                                       \
  X(POST, "/api/v1/customer-jobs", customer_job_new, TRUE, WRITE)                                  \
  X(GET, "/api/v1/customer-jobs/prices", prices, TRUE, READ)                                       \
  X(POST, "/api/v1/customer-jobs/prices", prices_new, TRUE, WRITE)                                 \
  X(GET, "/api/v1/customer-jobs/{id}", customer_job, TRUE, READ)                                   \
  X(POST, "/api/v1/customer-jobs/{id}/records", customer_job_record, TRUE, WRITE)                  \
  X(POST, "/api/v1/customer-jobs/{id}/withdraw", customer_job_withdraw, TRUE, WRITE)               \
  X(GET, "/api/v1/ledger", ledger, FALSE, KEPT)                                                    \
  X(POST, "/api/v1/calibrations", calibrations, TRUE, WRITE)                                       \
  X(POST, "/api/v1/calibrations/weights", load_cell, TRUE, WRITE)                                  \
  X(GET, "/api/v1/report", report, FALSE, SLOW)                                                    \
  X(GET, "/api/v1/sheet", sheet, FALSE, SLOW)                                                      \
  X(GET, "/api/v1/sheet-pages", sheet_pages, FALSE, KEPT)                                          \
  X(GET, "/api/v1/handover", handover, FALSE, KEPT)                                                \
  X(GET, "/api/v1/attachments", attachments, FALSE, READ)                                          \
  X(POST, "/api/v1/attachments", attachment_add, TRUE, WRITE)                                      \
  X(GET, "/api/v1/attachments/{id}", attachment, FALSE, SLOW)                                      \
  X(POST, "/api/v1/attachments/{id}/withdraw", attachment_withdraw, TRUE, WRITE)                   \
  X(GET, "/api/v1/notes", notes, FALSE, READ)                                                      \
  X(POST, "/api/v1/notes", note_add, TRUE, WRITE)                                                  \
  X(POST, "/api/v1/notes/{id}/withdraw", note_withdraw, TRUE, WRITE)                               \
  X(GET, "/api/v1/live", live, FALSE, READ)                                                        \
  X(POST, "/api/v1/live/start", live_start, TRUE, WRITE)                                           \
  X(GET, "/api/v1/live/source-kinds", source_kinds, FALSE, READ)                                   \
  X(POST, "/api/v1/live/source", source_put, TRUE, READ)                                           \
  X(POST, "/api/v1/live/source-map", source_map, TRUE, READ)                                       \
  X(POST, "/api/v1/live/control", live_control, TRUE, CONTROL)                                     \
  X(POST, "/api/v1/live/stop", live_stop, TRUE, CONTROL)                                           \
  X(GET, "/api/v1/build", build, FALSE, READ)                                                      \
  X(GET, "/api/v1/build/due", build_due, FALSE, KEPT)                                              \
  X(GET, "/api/v1/build/pairing", build_pairing, FALSE, READ)                                      \
  X(POST, "/api/v1/build/start", build_start, TRUE, WRITE)                                         \
  X(POST, "/api/v1/build/records", build_record, TRUE, WRITE)                                      \
  X(POST, "/api/v1/build/records/{id}/withdraw", build_withdraw, TRUE, WRITE)                      \
  X(GET, "/api/v1/devices", devices, FALSE, WRITE)                                                 \
  X(POST, "/api/v1/devices/code", device_code, TRUE, WRITE)                                        \
  X(POST, "/api/v1/devices/{id}/revoke", device_revoke, TRUE, WRITE)                               \
  X(POST, "/api/v1/pair", pair, TRUE, WRITE)                                                       \
  X(POST, "/api/v1/open", open, TRUE, AT_ONCE)                                                     \
  X(GET, "/api/v1/setup", setup, FALSE, READ)                                                      \
  X(GET, "/api/v1/engine-fields", engine_fields, FALSE, READ)                                      \
  X(GET, "/api/v1/engines", engines, FALSE, READ)                                                  \
  X(POST, "/api/v1/engines/{id}/in-cell", engine_in_cell, TRUE, WRITE)                             \
  X(GET, "/api/v1/families", families, FALSE, KEPT)                                                \
  X(GET, "/api/v1/backups", backups, FALSE, READ)                                                  \
  X(POST, "/api/v1/backups", backup, TRUE, WRITE)                                                  \
  X(GET, "/api/v1/backups/file", backup_file, TRUE, SLOW)                                          \
  X(POST, "/api/v1/verify", verify, TRUE, WRITE)                                                   \
  X(GET, "/api/v1/cell", cell, FALSE, READ)                                                        \
  X(PUT, "/api/v1/cell", cell_put, TRUE, WRITE)                                                    \
  X(POST, "/api/v1/cell/amend", cell_amend, TRUE, WRITE)                                           \
  X(POST, "/api/v1/cell/right", cell_right, TRUE, WRITE)                                           \
  X(GET, "/api/v1/recorders", recorders_list, FALSE, READ)                                         \
  X(POST, "/api/v1/recorders/withdraw", recorder_withdraw, TRUE, WRITE)                            \
  X(POST, "/api/v1/recorders", recorders, TRUE, WRITE)                                             \
  X(POST, "/api/v1/check", check, TRUE, WRITE)                                                     \
  X(GET, "/api/v1/engines/{id}", engine, FALSE, READ)                                              \
  X(PUT, "/api/v1/engines", engine_put, TRUE, WRITE)                                               \
  X(POST, "/api/v1/engine-check", engine_check, FALSE, SLOW)                                       \
  X(POST, "/api/v1/predict", predict, FALSE, SLOW)                                                 \
  X(POST, "/api/v1/predict/sliders", predict_sliders, FALSE, SLOW)                                 \
  X(POST, "/api/v1/predict/fit", predict_fit, FALSE, SLOW)                                         \
  X(POST, "/api/v1/predict/vary", predict_vary, FALSE, SLOW)                                       \
  X(POST, "/api/v1/predict/search", predict_search, FALSE, SLOW)                                   \
  X(POST, "/api/v1/predict/inside", predict_inside, FALSE, SLOW)                                   \
  X(POST, "/api/v1/predict/compression", predict_compression, FALSE, SLOW)                         \
  X(POST, "/api/v1/predict/keep", predict_keep, TRUE, WRITE)                                       \
  X(GET, "/api/v1/predict/{id}", predict_job, FALSE, READ)                                         \
  X(POST, "/api/v1/predict/{id}/cancel", predict_cancel, FALSE, READ)

typedef gboolean (*ew_api)(struct ew_service *service, const struct ew_request *request,
                           struct ew_reply *reply, GError **error);

struct ew_route {
  const char *verb, *pattern;
  ew_api handler;
  gboolean writes; /* a device that may only look is refused */
  enum ew_pace pace;
};

/* The route of a request, with the number of {id} put into `id`; NULL when there is none, and then
 * `known` tells whether the path exists under another verb. */
const struct ew_route *ew_route_find(const char *verb, const char *path, gint64 *id,
                                     gboolean *known);
/* Which queue a request waits in. */
enum ew_queue ew_service_queue(const struct ew_request *request);
/* One request from admittance to reply: pages, interface, refusals. */
void ew_service_answer(struct ew_service *service, struct ew_request *request,
                       struct ew_reply *reply);

#define X(verb, pattern, id, writes, pace)                                                         \
  gboolean ew_api_##id(struct ew_service *service, const struct ew_request *request,               \
                       struct ew_reply *reply, GError **error);
EW_ROUTES(X)
#undef X

/* What the cell repeats to, for the curves' bands. */
const struct ew_spread *ew_service_repeat(struct ew_service *service, const struct ew_desk *desk);
/* Units asked for by the query, else the book's. */
/* Whether the book holds a logo that can be shown (api_logo.c). */
gboolean ew_service_has_logo(struct ew_service *service);
enum ew_unit_system ew_service_units(struct ew_service *service, const struct ew_request *request);
/* A file's name as a header can hold it: letters, digits, dot, dash, underscore. */
char *ew_service_header_name(const char *name);
/* A field table as the page's forms want it: { key, heading, fields: [...] }. */
void ew_service_write_fields(const char *key, const char *heading, const struct ew_fields *table,
                             struct ew_json *json);
/* A member of a body such as [12, 14] as loaded pulls, 60 at most. */
gboolean ew_service_load_list(const struct ew_desk *desk, const struct ew_node *body,
                              const char *key, GPtrArray *into, GError **error);
/* "3,5,8" as loaded pulls. */
gboolean ew_service_load(const struct ew_desk *desk, const char *ids, GPtrArray *into,
                         GError **error);
