/* Field tables: a record is described once, and reading, checking, writing, help and manual all
 * come from that description.
 *
 * A field of a quantity is written with its unit in YAML ("86 mm") and named with its unit's suffix
 * in JSON ("bore_m"). A field that is absent takes its default; a quantity without one is NaN. */
#pragma once
#include "base/json_writer.h"
#include "base/node.h"
#include "base/units.h"

enum ew_field_type {
  EW_FIELD_QUANTITY, /* double */
  EW_FIELD_INTEGER,  /* int */
  EW_FIELD_BOOLEAN,  /* gboolean */
  EW_FIELD_TEXT,     /* char*, owned */
  EW_FIELD_CHOICE,   /* int, index into choices */
  EW_FIELD_NUMBERS,  /* GArray* of double, owned: a list of quantities */
  EW_FIELD_CHOICES,  /* guint64, a bit for each of choices (at most 64): a list of them, by key */
};

struct ew_field {
  const char *name;
  enum ew_field_type type;
  gsize offset;
  enum ew_kind kind;          /* of a quantity or a list of them */
  double minimum, maximum;    /* inside units; both 0 for no limit */
  const char *fallback;       /* text of the default, or NULL: none */
  const char *const *choices; /* NULL-terminated */
  const char *section; /* EW_TEXT: heading in template and manual; NULL continues the last one */
  const char *help;    /* EW_TEXT */
  const char *origin;  /* EW_TEXT: where the default or the limits come from; NULL: nowhere */
  const char *example; /* what the template shows where there is no default; NULL: its kind's */
  /* a figure that one would turn to see what follows: how far to either side and by what step, in
   * inside units (0: not one), and the field that is turned by the same amount, or NULL */
  double turn_reach, turn_step;
  const char *turn_with;
};

struct ew_fields {
  const char *record; /* EW_TEXT("engine"): what the table describes */
  gsize size;         /* of the struct */
  const struct ew_field *fields;
  gsize count;
};

/* Read a map into a cleared or zeroed struct; `where` names the file or request in messages.
 * Unknown keys are refused, with a suggestion; keys listed in `others` (NULL-terminated, may be
 * NULL) are left for the caller. On refusal the struct holds no memory. */
gboolean ew_fields_read(const struct ew_fields *table, const struct ew_node *map, const char *where,
                        const char *const *others, void *record, GError **error);
/* One field from text, as the command line gives it. */
gboolean ew_field_set(const struct ew_fields *table, void *record, const char *name,
                      const char *text, GError **error);
/* Set all defaults of a zeroed struct. */
void ew_fields_defaults(const struct ew_fields *table, void *record);
void ew_fields_clear(const struct ew_fields *table, void *record);
void ew_fields_copy(const struct ew_fields *table, const void *from, void *to); /* to: zeroed */

/* Members of the record inside an open JSON object. */
void ew_fields_write_json(const struct ew_fields *table, const void *record, struct ew_json *json);
/* Canonical YAML of a record: fields that have a value, in table order, inside units spelled out. */
char *ew_fields_write_yaml(const struct ew_fields *table, const void *record);
/* A commented YAML file to start from. */
char *ew_fields_template(const struct ew_fields *table);
/* One line a field: name, kind, range, default, help, origin. */
char *ew_fields_manual(const struct ew_fields *table);
/* The figure of one field as a person reads it ("30 deg", "30,5 deg"), or NULL when it has no value. */
char *ew_field_show(const struct ew_field *field, const void *record, enum ew_unit_system system);
/* The same as it could be typed: the same text in every language, in metric units. For forms and keys. */
char *ew_field_typed(const struct ew_field *field, const void *record);
const struct ew_field *ew_fields_find(const struct ew_fields *table, const char *name);
gboolean ew_field_same(const struct ew_field *field, const void *a, const void *b);
