/* Of a build, what is worked out over more than its record: parts that are due, by the engine's running time, and which piston goes into
 * which bore. */
#include "base/error.h"
#include "desk/pairing.h"
#include "serve/service.h"
#include <math.h>

static void write_due(const void *row, struct ew_json *json) {
  const struct ew_build_due *d = row;
  ew_json_text(json, "part", d->part->part);
  ew_json_text(json, "position", d->part->position);
  ew_json_number(json, "used_s", d->used_s);
  ew_json_number(json, "life_s", d->life_s);
  ew_json_number(json, "above_s", d->above_s);
  ew_json_number(json, "life_above_s", d->life_above_s);
  ew_json_number(json, "life_speed_rpm", d->part->life_speed_rpm);
  ew_json_number(json, "share", d->share);
  ew_json_boolean(json, "due", d->share >= 1);
}

/* Walks through the engine's stored recordings: asked apart from the rest, and kept until the book changes. */
gboolean ew_api_build_due(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                          GError **error) {
  struct ew_bench_build b = {0};
  struct ew_ledger ledger = {0};
  gboolean good = ew_bench_build_open(s->book, ew_request_query(r, "engine"), TRUE, &b, error) &&
                  ew_ledger_read(s->book, b.engine_id, &ledger, error);
  if (good) {
    int runs;
    g_autoptr(GArray) list =
        ew_build_due_list(b.build, ledger.running_s, ledger.above_s, EW_LEDGER_SPEEDS);
    ew_json_text(&reply->json, "engine", b.engine_name);
    ew_json_number(&reply->json, "running_recorded_s", ledger.running_s);
    ew_json_number(&reply->json, "running_told_s", ew_build_told_s(b.build, &runs));
    ew_json_integer(&reply->json, "runs_told", runs);
    ew_json_rows(&reply->json, "parts", list, write_due);
  }
  ew_bench_build_clear(&b);
  return good;
}

static void write_pairing(const struct ew_pairing *p, struct ew_json *json) {
  ew_json_number(json, "wanted_clearance_m", p->wanted_m);
  ew_json_number(json, "greatest_deviation_m", p->worst_m);
  ew_json_number(json, "greatest_deviation_as_numbered_m", p->as_numbered_m);
  ew_json_open_array(json, "pairs");
  for (gsize i = 0; i < p->count; i++) {
    ew_json_open(json, NULL);
    ew_json_integer(json, "bore", p->pairs[i].bore);
    ew_json_integer(json, "piston", p->pairs[i].piston);
    ew_json_number(json, "clearance_m", p->pairs[i].clearance_m);
    ew_json_number(json, "as_numbered_m", p->pairs[i].as_numbered_m);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

gboolean ew_api_build_pairing(struct ew_service *s, const struct ew_request *r,
                              struct ew_reply *reply, GError **error) {
  const char *asked = ew_request_query(r, "clearance");
  double wanted = NAN;
  struct ew_bench_build b = {0};
  struct ew_pairing pairing;
  if (asked && *asked && !ew_quantity_parse("clearance", asked, EW_KIND_LENGTH, &wanted, error)) {
    ew_error_at_field(error, "clearance");
    return FALSE;
  }
  gboolean good = ew_bench_build_open(s->book, ew_request_query(r, "engine"), TRUE, &b, error) &&
                  ew_bench_pairing(&b, wanted, &pairing, error);
  if (good)
    write_pairing(&pairing, &reply->json);
  ew_bench_build_clear(&b);
  return good;
}
