/* What the files of the field tables share (field.c, field_read.c, field_write.c, field_show.c); nobody else includes it. */
#pragma once
#include "base/field.h"

/* The member of a record that a field describes, as a pointer to `type`. */
#define EW_FIELD_AT(type, record, field) ((type *)(void *)((char *)(record) + (field)->offset))
#define EW_FIELD_OF(type, record, field)                                                           \
  (*(type const *)(const void *)((const char *)(record) + (field)->offset))

/* FALSE for a quantity that is NaN, a text or list that is NULL, a choice of several with none. */
gboolean ew_field_has_value(const struct ew_field *field, const void *record);
/* The chosen words of EW_FIELD_CHOICES as the reader calls them: "a, b". The caller frees. */
char *ew_field_words(const struct ew_field *field, const void *record);
/* A figure with no more decimals than it needs, and its unit: "86 mm". The caller frees. */
char *ew_figure_short(enum ew_kind kind, enum ew_unit_system system, double value);
