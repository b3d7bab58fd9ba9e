/* The list of figures, warnings and gaps of an engine: made by the check_*.c files in a fixed order, found by key. A
 * figure that is not finite is left out; ew_check_need notes which fields it would take. */
#include "engine/check.h"
#include "base/language.h"
#include "engine/check_parts.h"
#include <math.h>
#include <string.h>

const char *ew_confidence_word(enum ew_confidence confidence) {
  g_assert(confidence >= EW_EXACT && confidence <= EW_RULE_OF_THUMB);
  static const char *const words[] = {EW_TEXT("exact"), EW_TEXT("estimate"),
                                      EW_TEXT("rule of thumb")};
  return words[confidence];
}

void ew_check_add_list(struct ew_engine_check *check, const struct ew_figure *about,
                       const double *values, gsize count) {
  for (gsize i = 0; i < count; i++)
    if (!isfinite(values[i]))
      return;
  g_assert(about->key && about->label && about->method);
  struct ew_figure figure = *about;
  figure.list = TRUE;
  figure.count = count;
  figure.values = g_memdup2(values, count * sizeof *values);
  g_array_append_val(check->figures, figure);
}

void ew_check_add(struct ew_engine_check *check, const struct ew_figure *about, double value) {
  if (!isfinite(value))
    return;
  ew_check_add_list(check, about, &value, 1);
  g_array_index(check->figures, struct ew_figure, check->figures->len - 1).list = FALSE;
}

void ew_check_warn(struct ew_engine_check *check, const char *field, ew_message *warning) {
  g_assert(field && warning);
  ew_messages_add(check->warnings, ew_message_about(warning, field));
}

gboolean ew_check_need(struct ew_engine_check *check, double value,
                       const struct ew_message_kind *left_out) {
  if (!isfinite(value))
    ew_messages_add(check->left_out, ew_message_plain(left_out));
  return isfinite(value);
}

gboolean ew_check_need_of(struct ew_engine_check *check, double value,
                          const struct ew_message_kind *left_out, enum ew_side side) {
  if (!isfinite(value))
    ew_messages_add(check->left_out, ew_message(left_out, ew_say_word("side", ew_side_word(side))));
  return isfinite(value);
}

struct ew_engine_check *ew_engine_check_new(const struct ew_engine *engine) {
  struct ew_engine_check *check = g_new0(struct ew_engine_check, 1);
  check->engine = engine;
  check->figures = g_array_new(FALSE, FALSE, sizeof(struct ew_figure));
  check->warnings = ew_messages_new();
  check->left_out = ew_messages_new();
  check->top_speed_rpm = ew_engine_top_speed_rpm(engine);
  check->advice = EW_NO_COMPRESSION_ADVICE;
  check->contact_loss_rpm[0] = check->contact_loss_rpm[1] = NAN;
  ew_check_size(check);
  ew_check_valves(check); /* before compression, which needs inlet closing */
  ew_check_compression(check);
  ew_check_breathing(check);
  return check;
}

void ew_engine_check_free(struct ew_engine_check *check) {
  for (guint i = 0; i < check->figures->len; i++)
    g_free(g_array_index(check->figures, struct ew_figure, i).values);
  g_array_unref(check->figures);
  g_ptr_array_unref(check->warnings);
  g_ptr_array_unref(check->left_out);
  g_free(check);
}

int ew_engine_check_worst(const struct ew_engine_check *check) {
  int worst = -1;
  for (guint i = 0; i < check->warnings->len; i++)
    worst = MAX(worst, (int)ew_message_severity(check->warnings->pdata[i]));
  return worst;
}

const struct ew_figure *ew_engine_check_find(const struct ew_engine_check *check, const char *key) {
  for (guint i = 0; i < check->figures->len; i++) {
    const struct ew_figure *figure = &g_array_index(check->figures, struct ew_figure, i);
    if (strcmp(figure->key, key) == 0)
      return figure;
  }
  return NULL;
}
