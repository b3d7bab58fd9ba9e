/* The command is cut as a shell does, then option by option. */
#include "desk/mend.h"
#include <string.h>

static const struct {
  const char *option, *what;
  gboolean named; /* its value is "name=value" */
} parts[] = {{"--set", "set", TRUE},
             {"--units", "units", TRUE},
             {"--engine", "engine", FALSE},
             {"--at", "at", FALSE},
             {"--map", "columns", FALSE},
             {"--weather", "weather", FALSE},
             {"--calibration", "calibration", FALSE}};

static gboolean is_for_a_person(const char *value) {
  static const char *const whole[] = {"UNIT", "NAME", "MAP.yaml", "YYYY-MM-DD HH:MM"};
  for (gsize i = 0; i < G_N_ELEMENTS(whole); i++)
    if (strcmp(value, whole[i]) == 0)
      return TRUE;
  return strstr(value, "...") || g_str_has_prefix(value, "FACTOR ");
}

static void write_ask(struct ew_json *json, const char *what, const char *name, const char *value) {
  gboolean open = !value || is_for_a_person(value);
  ew_json_open(json, NULL);
  ew_json_text(json, "what", what);
  ew_json_text(json, "name", name);
  ew_json_text(json, "value", open ? NULL : value);
  ew_json_text(json, "shows", open ? value : NULL);
  ew_json_close(json);
}

static void write_option(struct ew_json *json, const char *option, const char *value) {
  for (gsize i = 0; i < G_N_ELEMENTS(parts); i++) {
    if (strcmp(option, parts[i].option) != 0)
      continue;
    const char *equals = parts[i].named ? strchr(value, '=') : NULL;
    g_autofree char *name = equals ? g_strndup(value, (gsize)(equals - value)) : NULL;
    write_ask(json, parts[i].what, name, equals ? equals + 1 : value);
  }
}

static gboolean begins(char **words, int count, const char *first, const char *second) {
  return count >= 2 && strcmp(words[0], first) == 0 && strcmp(words[1], second) == 0;
}

void ew_mend_json(const char *mend, struct ew_json *json) {
  g_auto(GStrv) words = NULL;
  int count = 0;
  if (mend && !g_shell_parse_argv(mend, &count, &words, NULL))
    count = 0;
  ew_json_text(json, "mend", mend);
  ew_json_open_array(json, "asks");
  if (begins(words, count, "pull", "amend"))
    for (int i = 3; i + 1 < count; i += 2)
      write_option(json, words[i], words[i + 1]);
  else if (begins(words, count, "pull", "discard"))
    write_ask(json, "discard", NULL, NULL);
  else if (begins(words, count, "cell", "amend"))
    write_ask(json, "cell", NULL, NULL);
  else if (begins(words, count, "judge", "again"))
    write_ask(json, "again", NULL, NULL);
  ew_json_close_array(json);
}
