/* What commands that predict are asked with: the engine, its fit, the air. See predict_asked.h. */
#include "cli/predict_asked.h"
#include "base/error.h"
#include "gas/moist_air.h"
#include <math.h>
#include <string.h>

#define USUAL_K 298.15 /* where no temperature is given, as the model has it */

char *ew_call_engine_text(const struct ew_call *call, const char *what, GError **error) {
  if (g_file_test(what, G_FILE_TEST_EXISTS)) {
    g_autoptr(GError) problem = NULL;
    char *text = NULL;
    if (!g_file_get_contents(what, &text, NULL, &problem))
      ew_refuse(error, "%s", problem->message);
    return text;
  }
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  struct ew_engine_row row;
  if (!book || !ew_engine_find(book, what, &row, error))
    return NULL;
  if (!row.id) {
    ew_refuse(error, "'%s': no such file, and no such engine in the book", what);
    return NULL;
  }
  char *text = g_strdup(row.yaml);
  ew_engine_row_clear(&row);
  return text;
}

gboolean ew_call_engine(const struct ew_call *call, const char *what, struct ew_engine *engine,
                        GError **error) {
  g_autofree char *text = NULL;
  g_autoptr(ew_node) root = NULL;
  if (g_file_test(what, G_FILE_TEST_EXISTS))
    root = ew_node_read(what, error);
  else if ((text = ew_call_engine_text(call, what, error)))
    root = ew_node_parse(what, text, strlen(text), error);
  return root && ew_engine_read(root, what, engine, error);
}

static gboolean read_kept(const struct ew_call *call, struct ew_tune *tune, GError **error) {
  const char *name = ew_call_argument(call, 0);
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  struct ew_engine_row row;
  gboolean found;
  if (!book)
    return FALSE;
  if (!ew_engine_find(book, name, &row, error))
    return FALSE;
  if (!row.id)
    return ew_refuse(
        error, "--tune kept: '%s' is not an engine of the book, and a file keeps no fit", name);
  gint64 id = row.id;
  ew_engine_row_clear(&row);
  if (!ew_tune_kept(book, id, tune, &found, error))
    return FALSE;
  if (found)
    return ew_tune_agrees(tune, "--tune kept", error);
  return ew_refuse(error,
                   "--tune kept: the book has no fit for '%s'; keep one on the page, or name a "
                   "file from 'engine fit --out'",
                   name);
}

gboolean ew_call_tune(const struct ew_call *call, struct ew_tune *tune, GError **error) {
  const char *path = ew_call_option(call, "tune");
  ew_fields_defaults(&ew_tune_fields, tune);
  if (!path)
    return TRUE;
  if (strcmp(path, "kept") == 0)
    return read_kept(call, tune, error);
  g_autoptr(ew_node) root = ew_node_read(path, error);
  return root && ew_fields_read(&ew_tune_fields, root, path, NULL, tune, error) &&
         ew_tune_agrees(tune, path, error);
}

/* Of the air whose humidity was given: as asked, else the file's, else the model's own. */
static double air_k(const struct ew_prediction_setup *s) {
  double file = s->engine ? s->engine->breathing.air_temperature_k : NAN;
  return !isnan(s->temperature_k) ? s->temperature_k : !isnan(file) ? file : USUAL_K;
}

gboolean ew_call_prediction_air(const struct ew_call *call, struct ew_prediction_setup *s,
                                GError **error) {
  double humidity;
  s->vapour_pa = NAN;
  if (!ew_call_quantity(call, "spark", EW_KIND_ANGLE, NAN, &s->spark_deg, error) ||
      !ew_call_quantity(call, "lambda", EW_KIND_LAMBDA, NAN, &s->lambda, error) ||
      !ew_call_quantity(call, "pressure", EW_KIND_PRESSURE_ABSOLUTE, NAN, &s->pressure_pa, error) ||
      !ew_call_quantity(call, "temperature", EW_KIND_TEMPERATURE, NAN, &s->temperature_k, error) ||
      !ew_call_quantity(call, "humidity", EW_KIND_RATIO, NAN, &humidity, error))
    return FALSE;
  if (s->spark_deg < -40 || s->spark_deg > 90)
    return ew_refuse(error, "--spark: %.1f deg is outside -40 to 90 deg before top dead centre",
                     s->spark_deg);
  if (s->pressure_pa < 3e4 || s->pressure_pa > 3e5)
    return ew_refuse(error, "--pressure: %.0f hPa is outside 300 to 3000 hPa",
                     s->pressure_pa / 100);
  if (humidity < 0 || humidity > 1)
    return ew_refuse(error, "--humidity: %.0f %% is outside 0 to 100 %%", 100 * humidity);
  if (!isnan(humidity))
    s->vapour_pa = ew_vapour_from_relative_humidity_pa(humidity, air_k(s));
  return TRUE;
}
