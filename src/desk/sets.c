/* Fields of a record by name, as --set and the page give them. */
#include "desk/sets.h"
#include "base/error.h"
#include <math.h>
#include <string.h>

/* As a field of a record that nobody filled in. */
static gboolean forget(const struct ew_fields *table, void *record, const char *name,
                       GError **error) {
  const struct ew_field *field = ew_fields_find(table, name);
  if (!field || (field->type != EW_FIELD_QUANTITY && field->type != EW_FIELD_TEXT))
    return ew_field_set(table, record, name, "", error); /* which says what is wrong */
  void *at = (char *)record + field->offset;
  if (field->type == EW_FIELD_QUANTITY)
    *(double *)at = NAN;
  else
    g_clear_pointer((char **)at, g_free);
  return TRUE;
}

gboolean ew_apply_record_sets(const struct ew_fields *table, void *record, const char *const *sets,
                              GError **error) {
  for (int i = 0; sets && sets[i]; i++) {
    const char *equals = strchr(sets[i], '=');
    if (!equals)
      return ew_refuse(error, "set '%s': write name=value, for example --set \"spark=30 deg\"",
                       sets[i]);
    g_autofree char *name = g_strstrip(g_strndup(sets[i], (gsize)(equals - sets[i])));
    g_autofree char *value = g_strstrip(g_strdup(equals + 1));
    if (!(*value ? ew_field_set(table, record, name, value, error)
                 : forget(table, record, name, error)))
      return FALSE;
  }
  return TRUE;
}

gboolean ew_apply_sets(struct ew_setup *setup, const char *const *sets, GError **error) {
  return ew_apply_record_sets(&ew_setup_fields, setup, sets, error);
}
