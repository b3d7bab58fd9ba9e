/* What every handler of the interface works with, and the table of what can be asked. */
#pragma once
#include "book/change.h"
#include "desk/loaded.h"
#include "serve/http.h"

struct ew_live;
struct ew_predictor;
struct ew_here;

struct ew_service {
  struct ew_book *book; /* of the worker thread */
  struct ew_http *http;
  struct ew_live *live; /* the practice cell's feed; of the main thread */
  struct ew_predictor *predictor;
  struct ew_devices *devices;
  struct ew_here *here; /* the secret of this machine's own person */
  gboolean lan, tls;
  GPtrArray *addresses; /* char*: of this page on the network */
  const char *practice; /* YAML of a practice day, for the live view; NULL: none */
  /* what the cell repeats to, kept between requests until a pull, its set-up or its curve changes */
  struct ew_learned learned;
  struct ew_change learned_at; /* of the whole book: while it stays, nothing need be read */
  char *learned_from;          /* digest of what it was learned from; NULL: not learned yet */
};

/* verb, path, handler; whether it needs the right to write: it changes something, or hands out the whole book */
#define EW_ROUTES(X)                                                                               \
  X(GET, "/api/v1/book", book, FALSE)                                                              \
  X(POST, "/api/v1/demo", demo, TRUE)                                                              \
  X(POST, "/api/v1/settings", settings, TRUE)                                                      \
  X(GET, "/api/v1/pulls", pulls, FALSE)                                                            \
  X(GET, "/api/v1/curves", curves, FALSE)                                                          \
  X(GET, "/api/v1/pulls/{id}/explain", explain, FALSE)                                             \
  X(GET, "/api/v1/pulls/{id}/origins", origins, FALSE)                                             \
  X(POST, "/api/v1/pulls/{id}/discard", discard, TRUE)                                             \
  X(POST, "/api/v1/recordings", recordings, TRUE)                                                  \
  X(POST, "/api/v1/compare", compare, TRUE)                                                        \
  X(POST, "/api/v1/sweep", sweep, TRUE)                                                            \
  X(GET, "/api/v1/pulls/{id}/step-up", step_up, FALSE)                                             \
  X(GET, "/api/v1/pulls/{id}/channels", channels, FALSE)                                           \
  X(GET, "/api/v1/method", method, FALSE)                                                          \
  X(PUT, "/api/v1/method", method_put, TRUE)                                                       \
  X(POST, "/api/v1/method/try", method_try, FALSE)                                                 \
  X(GET, "/api/v1/day", day, FALSE)                                                                \
  X(GET, "/api/v1/shop", shop, FALSE)                                                              \
  X(GET, "/api/v1/ledger", ledger, FALSE)                                                          \
  X(POST, "/api/v1/calibrations", calibrations, TRUE)                                              \
  X(GET, "/api/v1/report", report, FALSE)                                                          \
  X(GET, "/api/v1/sheet", sheet, FALSE)                                                            \
  X(GET, "/api/v1/sheet-pages", sheet_pages, FALSE)                                                \
  X(GET, "/api/v1/handover", handover, FALSE)                                                      \
  X(GET, "/api/v1/attachments", attachments, FALSE)                                                \
  X(POST, "/api/v1/attachments", attachment_add, TRUE)                                             \
  X(GET, "/api/v1/attachments/{id}", attachment, FALSE)                                            \
  X(POST, "/api/v1/attachments/{id}/withdraw", attachment_withdraw, TRUE)                          \
  X(GET, "/api/v1/notes", notes, FALSE)                                                            \
  X(POST, "/api/v1/notes", note_add, TRUE)                                                         \
  X(POST, "/api/v1/notes/{id}/withdraw", note_withdraw, TRUE)                                      \
  X(GET, "/api/v1/live", live, FALSE)                                                              \
  X(POST, "/api/v1/live/start", live_start, TRUE)                                                  \
  X(POST, "/api/v1/live/control", live_control, TRUE)                                              \
  X(POST, "/api/v1/live/stop", live_stop, TRUE)                                                    \
  X(GET, "/api/v1/build", build, FALSE)                                                            \
  X(POST, "/api/v1/build/start", build_start, TRUE)                                                \
  X(POST, "/api/v1/build/records", build_record, TRUE)                                             \
  X(POST, "/api/v1/build/records/{id}/withdraw", build_withdraw, TRUE)                             \
  X(GET, "/api/v1/devices", devices, FALSE)                                                        \
  X(POST, "/api/v1/devices/code", device_code, TRUE)                                               \
  X(POST, "/api/v1/devices/{id}/revoke", device_revoke, TRUE)                                      \
  X(POST, "/api/v1/pair", pair, TRUE)                                                              \
  X(POST, "/api/v1/open", open, TRUE)                                                              \
  X(GET, "/api/v1/engine-fields", engine_fields, FALSE)                                            \
  X(GET, "/api/v1/engines", engines, FALSE)                                                        \
  X(POST, "/api/v1/engines/{id}/in-cell", engine_in_cell, TRUE)                                    \
  X(GET, "/api/v1/families", families, FALSE)                                                      \
  X(GET, "/api/v1/backups", backups, FALSE)                                                        \
  X(POST, "/api/v1/backups", backup, TRUE)                                                         \
  X(GET, "/api/v1/backups/file", backup_file, TRUE)                                                \
  X(POST, "/api/v1/verify", verify, TRUE)                                                          \
  X(GET, "/api/v1/engines/{id}", engine, FALSE)                                                    \
  X(PUT, "/api/v1/engines", engine_put, TRUE)                                                      \
  X(POST, "/api/v1/engine-check", engine_check, FALSE)                                             \
  X(POST, "/api/v1/predict", predict, FALSE)                                                       \
  X(POST, "/api/v1/predict/sliders", predict_sliders, FALSE)                                       \
  X(POST, "/api/v1/predict/fit", predict_fit, FALSE)                                               \
  X(POST, "/api/v1/predict/vary", predict_vary, FALSE)                                             \
  X(POST, "/api/v1/predict/keep", predict_keep, TRUE)                                              \
  X(GET, "/api/v1/predict/{id}", predict_job, FALSE)                                               \
  X(POST, "/api/v1/predict/{id}/cancel", predict_cancel, FALSE)

typedef gboolean (*ew_api)(struct ew_service *service, const struct ew_request *request,
                           struct ew_reply *reply, GError **error);

struct ew_route {
  const char *verb, *pattern;
  ew_api handler;
  gboolean writes; /* a device that may only look is refused */
};

/* The route of a request, with the number of {id} put into `id`; NULL when there is none, and then
 * `known` tells whether the path exists under another verb. */
const struct ew_route *ew_route_find(const char *verb, const char *path, gint64 *id,
                                     gboolean *known);
/* One request from admittance to reply: pages, interface, refusals. */
void ew_service_answer(struct ew_service *service, struct ew_request *request,
                       struct ew_reply *reply);

#define X(verb, pattern, id, writes)                                                               \
  gboolean ew_api_##id(struct ew_service *service, const struct ew_request *request,               \
                       struct ew_reply *reply, GError **error);
EW_ROUTES(X)
#undef X

/* What the cell repeats to, for the curves' bands. */
const struct ew_spread *ew_service_repeat(struct ew_service *service, const struct ew_desk *desk);
/* Units asked for by the query, else the book's. */
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
