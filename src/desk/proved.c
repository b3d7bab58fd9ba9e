/* Held, tripped and discarded pulls are never among the last like ones (desk/alike.h); a held one that ran after them is named, so
 * that nobody takes the sheet for the newest state. A pull that was amended counts with what is right now, and is named with the day
 * and the reason. */
#include "desk/proved.h"
#include "base/language.h"
#include "base/words.h"
#include "book/amend.h"
#include "desk/alike.h"
#include "sheet/page.h"
#include <math.h>
#include <string.h>

static void add(GPtrArray *pairs, const char *label, char *value) {
  if (!value || !*value) {
    g_free(value);
    return;
  }
  g_ptr_array_add(pairs, g_strdup(label));
  g_ptr_array_add(pairs, value);
}

static char *spark_text(const struct ew_setup *s) {
  if (isnan(s->spark_deg))
    return NULL;
  return isnan(s->spark_measured_deg)
             ? ew_words("%.1f° before top dead centre, not checked with a light", s->spark_deg)
             : ew_words("%.1f° before top dead centre, %.1f° by the light", s->spark_deg,
                        s->spark_measured_deg);
}

/* Fields of the set-up that the customer sets or buys. Spark and fuel are said apart. */
static void add_setup(GPtrArray *pairs, const struct ew_loaded *l, enum ew_unit_system units) {
  static const char *const names[] = {"advance_curve", "lambda",       "jets",     "main_jet",
                                      "air_jet",       "float_level",  "plugs",    "plug_gap",
                                      "lash_inlet",    "lash_exhaust", "oil",      "header",
                                      "silencer",      "air_cleaner",  "equipment"};
  add(pairs, EW_TEXT("spark"), spark_text(&l->setup));
  add(pairs, EW_TEXT("fuel"), g_strdup(l->setup.fuel ? l->setup.fuel : l->engine.fuel));
  add(pairs, EW_TEXT("fuel batch"), g_strdup(l->setup.fuel_batch));
  for (gsize i = 0; i < ew_setup_fields.count; i++) {
    const struct ew_field *field = &ew_setup_fields.fields[i];
    gboolean wanted = FALSE;
    for (gsize k = 0; k < G_N_ELEMENTS(names); k++)
      wanted |= strcmp(field->name, names[k]) == 0;
    g_autofree char *label = g_strdelimit(g_strdup(field->name), "_", ' ');
    if (wanted)
      add(pairs, label, ew_field_show(field, &l->setup, units));
  }
}

static gboolean note_amended(struct ew_book *book, const struct ew_loaded *l, GPtrArray *notes,
                             GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) rows = ew_amendment_list(book, l->id, &problem);
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_amendment_row *row = &g_array_index(rows, struct ew_amendment_row, i);
    char day[EW_DAY_SIZE];
    if (!ew_book_day(book, row->at, day, error))
      return FALSE;
    g_autofree char *shown = ew_sheet_day(day);
    g_ptr_array_add(
        notes, ew_words("Pull %lld was corrected on %s: %s", (long long)l->id, shown, row->reason));
  }
  return TRUE;
}

/* Those that ran after the ones that count. */
static gboolean note_held(struct ew_book *book, gint64 engine_id, const char *after,
                          GPtrArray *notes, GError **error) {
  g_autoptr(GArray) rows = ew_pull_list(book, engine_id, error);
  if (!rows)
    return FALSE;
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    if (row->held && !row->discarded && (!after || strcmp(row->at, after) > 0))
      g_ptr_array_add(notes, ew_words("Pull %lld, which ran later, is held and not in this sheet.",
                                      (long long)row->id));
  }
  return TRUE;
}

static gboolean tell(struct ew_desk *desk, const GPtrArray *run, enum ew_unit_system units,
                     struct ew_proved *p, GError **error) {
  g_assert(run->len > 0);
  const struct ew_loaded *last = g_ptr_array_index(run, run->len - 1);
  g_autoptr(GString) ids = g_string_new(NULL);
  gboolean invented = FALSE, good = TRUE;
  for (guint i = 0; i < run->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(run, i);
    g_string_append_printf(ids, "%s%" G_GINT64_FORMAT, i ? ", " : "", l->id);
    invented |= l->row.invented;
  }
  g_autofree char *day = ew_sheet_day(last->row.day);
  add_setup(p->pairs, last, units);
  g_ptr_array_add(p->notes, ew_words("As it was in pulls %s, the last on %s, run to %#.0f rpm.",
                                     ids->str, day, round(last->curve->high_rpm / 10) * 10));
  if (invented)
    g_ptr_array_add(p->notes, g_strdup(ew_tr("These pulls are of the practice cell, an invented "
                                             "engine: they prove nothing of this one.")));
  for (guint i = 0; good && i < run->len; i++)
    good = note_amended(desk->book, g_ptr_array_index(run, i), p->notes, error);
  return good;
}

gboolean ew_proved_read(struct ew_desk *desk, gint64 engine_id, enum ew_unit_system units,
                        struct ew_proved *p, GError **error) {
  g_autoptr(GPtrArray) run = ew_desk_last_like(desk, engine_id, error);
  if (!run)
    return FALSE;
  p->pairs = g_ptr_array_new_with_free_func(g_free);
  p->notes = g_ptr_array_new_with_free_func(g_free);
  gboolean good = run->len == 0 || tell(desk, run, units, p, error);
  const struct ew_loaded *last = run->len ? g_ptr_array_index(run, run->len - 1) : NULL;
  if (!last)
    g_ptr_array_add(p->notes,
                    g_strdup(ew_tr("No pull of this engine counts: nothing here is proved.")));
  good = good && note_held(desk->book, engine_id, last ? last->row.at : NULL, p->notes, error);
  if (!good)
    ew_proved_clear(p);
  return good;
}

void ew_proved_clear(struct ew_proved *p) {
  g_assert(!p->pairs == !p->notes);
  g_clear_pointer(&p->pairs, g_ptr_array_unref);
  g_clear_pointer(&p->notes, g_ptr_array_unref);
}
