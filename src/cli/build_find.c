/* build find, family: one question over all engines of the book. */
#include "cli/build_call.h"
#include <math.h>

static void write_part(const void *row, struct ew_json *json) {
  const struct ew_part_row *r = row;
  ew_json_text(json, "engine", r->engine);
  ew_json_text(json, "build", r->build);
  ew_json_text(json, "part", r->what);
  ew_json_text(json, "number", r->number);
  ew_json_text(json, "batch", r->batch);
  ew_json_text(json, "serial", r->serial);
  ew_json_text(json, "position", r->position);
}

static void say_part(const void *row) {
  const struct ew_part_row *r = row;
  ew_say("%s (%s): %s %s, batch %s, serial %s, position %s", r->engine, r->build, r->what,
         r->number ? r->number : "", r->batch ? r->batch : "-", r->serial ? r->serial : "-",
         r->position ? r->position : "-");
}

static gboolean run_find(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  g_autoptr(GArray) rows = book ? ew_part_find(book, ew_call_argument(call, 0), error) : NULL;
  if (!rows)
    return FALSE;
  ew_answer_rows(call, "found", rows, write_part, say_part);
  if (!call->json && rows->len == 0)
    ew_say("no engine in this book has '%s'", ew_call_argument(call, 0));
  return TRUE;
}
const struct ew_command ew_command_build_find = {
    .name = "build find",
    .summary = EW_TEXT("Which engines carry a part or fluid of this batch, serial or number"),
    .takes = EW_TEXT("TEXT"),
    .least = 1,
    .most = 1,
    .options = ew_build_options,
    .run = run_find,
    .examples = "build find S7-0311"};

static char *or_dash(enum ew_kind kind, enum ew_unit_system units, double value, int decimals) {
  return isnan(value) ? g_strdup("-") : ew_quantity_format(kind, units, value, decimals);
}

static void say_family(const struct ew_call *call, const GArray *rows) {
  ew_say("%-24s %14s %10s %12s %10s %12s %6s", ew_tr("engine"), ew_tr("torque/litre"),
         ew_tr("power"), ew_tr("fuel"), ew_tr("oil"), ew_tr("turning"), ew_tr("pulls"));
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_family_row *r = &g_array_index(rows, struct ew_family_row, i);
    g_autofree char *torque =
                        or_dash(EW_KIND_TORQUE, call->units, r->torque_per_volume_n_m_m3 / 1e3, 1),
                    *power = or_dash(EW_KIND_POWER, call->units, r->power_w, 1),
                    *fuel = or_dash(EW_KIND_SPECIFIC_FUEL, call->units, r->specific_fuel_kg_j,
                                    call->units == EW_UNITS_US ? 3 : 0),
                    *oil = or_dash(EW_KIND_PRESSURE_GAUGE, call->units, r->oil_pressure_pa, 1),
                    *turning = or_dash(EW_KIND_TORQUE, call->units, r->turning_torque_n_m, 1);
    ew_say("%-24s %14s %10s %12s %10s %12s %6d", r->engine, torque, power, fuel, oil, turning,
           r->pulls);
  }
}

static void write_family(const void *row, struct ew_json *json) {
  const struct ew_family_row *r = row;
  ew_json_text(json, "engine", r->engine);
  ew_json_text(json, "build", r->build);
  ew_json_number(json, "torque_per_volume_n_m_m3", r->torque_per_volume_n_m_m3);
  ew_json_number(json, "power_w", r->power_w);
  ew_json_number(json, "specific_fuel_kg_j", r->specific_fuel_kg_j);
  ew_json_number(json, "oil_pressure_pa", r->oil_pressure_pa);
  ew_json_number(json, "turning_torque_n_m", r->turning_torque_n_m);
  ew_json_integer(json, "pulls", r->pulls);
}

static gboolean run_family(const struct ew_call *call, GError **error) {
  struct ew_desk desk = {0};
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  gboolean good = book && ew_desk_open(&desk, book, error);
  g_autoptr(GArray) rows = good ? ew_build_family(&desk, ew_call_argument(call, 0), error) : NULL;
  if (rows && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_rows(&json, "engines", rows, write_family);
    ew_answer_end(&json);
  } else if (rows)
    say_family(call, rows);
  ew_desk_clear(&desk);
  return rows != NULL;
}
const struct ew_command ew_command_build_family = {.name = "build family",
                                                   .summary =
                                                       EW_TEXT("Engines of one tag side by side"),
                                                   .takes = EW_TEXT("TAG"),
                                                   .least = 1,
                                                   .most = 1,
                                                   .options = ew_build_options,
                                                   .run = run_family,
                                                   .examples = "build family \"hill-climb sixes\""};
