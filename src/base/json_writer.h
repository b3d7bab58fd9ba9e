/* A streaming JSON writer (RFC 8259): keys in the order they are written, numbers as the shortest
 * text that reads back to the same bits, NaN and infinity as null. */
#pragma once
#include <glib.h>

struct ew_json {
  GString *text;  /* owned by the caller: g_string_free */
  gboolean comma; /* a comma is due before the next value */
  gboolean facts; /* messages are written without their sentences: for what is stored */
  int figures; /* of the numbers in lists, for drawings; 0: all that it takes to read the same double back */
};

void ew_json_open(struct ew_json *json, const char *key);       /* { ; key NULL inside arrays */
void ew_json_close(struct ew_json *json);                       /* } */
void ew_json_open_array(struct ew_json *json, const char *key); /* [ */
void ew_json_close_array(struct ew_json *json);                 /* ] */
void ew_json_number(struct ew_json *json, const char *key, double value);
void ew_json_integer(struct ew_json *json, const char *key, gint64 value);
void ew_json_boolean(struct ew_json *json, const char *key, gboolean value);
void ew_json_text(struct ew_json *json, const char *key, const char *value); /* NULL gives null */
void ew_json_numbers(struct ew_json *json, const char *key, const double *values, gsize count);
void ew_json_texts(struct ew_json *json, const char *key, const GPtrArray *values); /* of char* */

/* Writes the members of one row, inside its open object. */
typedef void (*ew_json_row)(const void *row, struct ew_json *json);
/* A list of one object for each row; rows NULL gives an empty one. */
void ew_json_rows(struct ew_json *json, const char *key, const GArray *rows, ew_json_row write);
