/* From the words of a command line to a call: the command by its longest match, options wherever they stand, the
 * number of arguments, then its function and the exit code of its error. Says what people read on standard output
 * and everything else on standard error, so that --json and pipes stay clean. */
#include "cli/command.h"
#include "book/store.h"
#include "base/as_pointer.h"
#include "base/plain.h"
#include "base/words.h"
#include "base/suggest.h"
#include "cli/commands.h"
#include "cycle/backend/backend.h"
#include "pull/findings.h"
#include "desk/add.h"
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define X(id) extern const struct ew_command ew_command_##id;
EW_COMMANDS(X)
#undef X
const struct ew_command *const ew_commands[] = {
#define X(id) &ew_command_##id,
    EW_COMMANDS(X)
#undef X
        NULL};

static const struct ew_option_spec common[] = {
    {"json", NULL, EW_TEXT("answer in JSON (docs/api.md)"), FALSE},
    {"units", "si|us", EW_TEXT("units of the text that is printed"), FALSE},
    {"language", EW_TEXT("CODE"),
     EW_TEXT("language of the text that is printed: en, de, or a .mo catalogue"), FALSE},
    {"help", NULL, EW_TEXT("what this command does, with examples"), FALSE},
    {NULL, NULL, NULL, FALSE},
};

static const struct ew_option_spec *find_option(const struct ew_command *command,
                                                const char *name) {
  const struct ew_option_spec *lists[] = {command->options, common};
  for (int k = 0; k < 2; k++)
    for (const struct ew_option_spec *spec = lists[k]; spec && spec->name; spec++)
      if (strcmp(spec->name, name) == 0)
        return spec;
  return NULL;
}

static gboolean refuse_option(const struct ew_command *command, const char *name, GError **error) {
  g_autoptr(GPtrArray) names = g_ptr_array_new();
  const struct ew_option_spec *lists[] = {command->options, common};
  for (int k = 0; k < 2; k++)
    for (const struct ew_option_spec *spec = lists[k]; spec && spec->name; spec++)
      g_ptr_array_add(names, ew_as_pointer(spec->name));
  const char *near = ew_suggest(name, (const char *const *)names->pdata, names->len);
  if (near)
    return ew_refuse(
        error, "'%s' has no option --%s; did you mean --%s? 'enginewright help %s' lists them",
        command->name, name, near, command->name);
  return ew_refuse(error, "'%s' has no option --%s; 'enginewright help %s' lists them",
                   command->name, name, command->name);
}

static void add_option(struct ew_call *call, const char *name, const char *value) {
  g_ptr_array_add(call->names, ew_as_pointer(name));
  g_ptr_array_add(call->values, ew_as_pointer(value));
  g_assert(call->names->len == call->values->len);
}

static gboolean parse_option(struct ew_call *call, int argc, char **argv, int *at, GError **error) {
  const char *given = argv[*at] + 2, *equals = strchr(given, '=');
  g_autofree char *name = equals ? g_strndup(given, (gsize)(equals - given)) : g_strdup(given);
  const struct ew_option_spec *spec = find_option(call->command, name);
  if (!spec)
    return refuse_option(call->command, name, error);
  if (!spec->value) {
    add_option(call, spec->name, NULL);
    return TRUE;
  }
  if (equals) {
    add_option(call, spec->name, equals + 1);
    return TRUE;
  }
  if (*at + 1 >= argc || g_str_has_prefix(argv[*at + 1], "--"))
    return ew_refuse(error, "--%s needs a value: %s", spec->name, ew_tr(spec->value));
  do
    add_option(call, spec->name, argv[++*at]);
  while (spec->many && *at + 1 < argc && !g_str_has_prefix(argv[*at + 1], "--"));
  return TRUE;
}

/* "us" and "si" are of the printed text; "torque=lb-ft" is for a command that takes units of channels itself. */
static gboolean settle_units(struct ew_call *call, GError **error) {
  const struct ew_option_spec *own = call->command->options;
  while (own && own->name && strcmp(own->name, "units") != 0)
    own++;
  g_autofree const char **all = ew_call_options(call, "units");
  call->units = EW_UNITS_SI;
  for (guint i = 0; all[i]; i++)
    if (strcmp(all[i], "us") == 0 || strcmp(all[i], "si") == 0)
      call->units = all[i][0] == 'u' ? EW_UNITS_US : EW_UNITS_SI;
    else if (!own || !own->name || !strchr(all[i], '='))
      return ew_refuse(error, "--units '%s' is neither si nor us", all[i]);
  return TRUE;
}

static gboolean parse(struct ew_call *call, int argc, char **argv, GError **error) {
  gboolean plain = FALSE;
  g_assert(call->command->most < 0 || call->command->least <= call->command->most);
  for (int i = 0; i < argc; i++) {
    if (!plain && strcmp(argv[i], "--") == 0)
      plain = TRUE;
    else if (!plain && g_str_has_prefix(argv[i], "--")) {
      if (!parse_option(call, argc, argv, &i, error))
        return FALSE;
    } else
      g_ptr_array_add(call->arguments, argv[i]);
  }
  call->json = ew_call_has(call, "json");
  if (!settle_units(call, error))
    return FALSE;
  int count = (int)call->arguments->len;
  const struct ew_command *c = call->command;
  if (ew_call_has(call, "help"))
    return TRUE;
  if (call->json && c->prints_text)
    return ew_refuse(error, "--json: '%s' prints text to keep or read as it is; leave --json out",
                     c->name);
  if (count < c->least)
    return ew_refuse(error, "'%s' needs %s; 'enginewright help %s' shows examples", c->name,
                     ew_tr(c->takes), c->name);
  if (c->most < 0 || count <= c->most)
    return TRUE;
  const char *extra = g_ptr_array_index(call->arguments, (guint)c->most);
  return c->most ? ew_refuse(error, "'%s' takes only %s; '%s' is too many", c->name,
                             ew_tr(c->takes), extra)
                 : ew_refuse(error, "'%s' takes no arguments; '%s' is too many", c->name, extra);
}

/* The command whose name the first words give; *words tells how many. */
static const struct ew_command *find_command(int argc, char **argv, int *words) {
  for (int i = 0; ew_commands[i]; i++) {
    g_auto(GStrv) parts = g_strsplit(ew_commands[i]->name, " ", 2);
    int count = parts[1] ? 2 : 1;
    if (argc >= count && strcmp(argv[0], parts[0]) == 0 &&
        (count == 1 || strcmp(argv[1], parts[1]) == 0)) {
      g_assert(ew_commands[i]->run);
      *words = count;
      return ew_commands[i];
    }
  }
  return NULL;
}

static void complain(const GError *error) {
  g_autofree char *says = ew_error_says(error, EW_AT_COMMAND_LINE), *plain = ew_plain_text(says);
  fprintf(stderr, "enginewright: %s\n", plain);
}

/* A refusal of the line itself, before any command runs: the exit code of bad input. */
static int G_GNUC_PRINTF(1, 2) complain_of(const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *text = ew_words_v(format, arguments), *plain = ew_plain_text(text);
  va_end(arguments);
  fprintf(stderr, "enginewright: %s\n", plain);
  return 2;
}

/* The first of the two words of some commands. */
static gboolean is_group(const char *word) {
  gsize length = strlen(word);
  for (int i = 0; ew_commands[i]; i++)
    if (strncmp(ew_commands[i]->name, word, length) == 0 && ew_commands[i]->name[length] == ' ')
      return TRUE;
  return FALSE;
}

static int refuse_command(int argc, char **argv) {
  g_autofree char *given =
      argc > 1 ? g_strdup_printf("%s %s", argv[0], argv[1]) : g_strdup(argv[0]);
  g_autoptr(GPtrArray) names = g_ptr_array_new();
  for (int i = 0; ew_commands[i]; i++)
    g_ptr_array_add(names, ew_as_pointer(ew_commands[i]->name));
  if (argc == 1 && is_group(argv[0])) {
    GString *verbs = g_string_new(NULL);
    for (int i = 0; ew_commands[i]; i++)
      if (g_str_has_prefix(ew_commands[i]->name, argv[0]))
        g_string_append_printf(verbs, "%s%s", verbs->len ? ", " : "", ew_commands[i]->name);
    int code = complain_of("'%s' needs one more word: %s", argv[0], verbs->str);
    g_string_free(verbs, TRUE);
    return code;
  }
  const char *near = ew_suggest(given, (const char *const *)names->pdata, names->len);
  if (!near)
    near = ew_suggest(argv[0], (const char *const *)names->pdata, names->len);
  return near ? complain_of(
                    "'%s' is not a command; did you mean '%s'? 'enginewright help' lists them",
                    given, near)
              : complain_of("'%s' is not a command; 'enginewright help' lists them", given);
}

static int exit_code(const GError *error) {
  if (error->domain != EW_ERROR || error->code == EW_ERROR_INTERNAL)
    return 3;
  return error->code == EW_ERROR_NO ? 1 : 2;
}

/* The last --language anywhere in the line, so that even a refusal of the line is in it; else what the environment asks. */
static gboolean settle_language(int argc, char **argv, GError **error) {
  const char *asked = NULL;
  for (int i = 0; i < argc && strcmp(argv[i], "--") != 0; i++)
    if (g_str_has_prefix(argv[i], "--language="))
      asked = argv[i] + strlen("--language=");
    else if (strcmp(argv[i], "--language") == 0 && i + 1 < argc)
      asked = argv[i + 1];
  const ew_language *language =
      asked ? ew_language_find(asked, error) : ew_language_of_environment();
  ew_language_of_process(language);
  return language != NULL;
}

static struct ew_call *running; /* the one call of this process, whose units follow its book */

gboolean ew_call_follow_book(struct ew_book *book, GError **error) {
  g_autofree char *units = NULL;
  if (!running || ew_call_has(running, "units"))
    return TRUE;
  if (!ew_setting_get(book, "units", &units, error))
    return FALSE;
  running->units = g_strcmp0(units, "us") == 0 ? EW_UNITS_US : EW_UNITS_SI;
  return TRUE;
}

static int run(const struct ew_command *command, int argc, char **argv) {
  struct ew_call call = {.command = command,
                         .arguments = g_ptr_array_new(),
                         .names = g_ptr_array_new(),
                         .values = g_ptr_array_new()};
  g_autoptr(GError) error = NULL;
  g_assert(!running); /* one call a process */
  running = &call;
  gboolean good = parse(&call, argc, argv, &error);
  if (good && ew_call_has(&call, "help")) {
    g_ptr_array_set_size(call.arguments, 0);
    g_ptr_array_add(call.arguments, ew_as_pointer(command->name));
    good = ew_command_help.run(&call, &error);
  } else if (good)
    good = command->run(&call, &error);
  running = NULL;
  g_ptr_array_unref(call.arguments);
  g_ptr_array_unref(call.names);
  g_ptr_array_unref(call.values);
  if (good && (fflush(stdout) != 0 || ferror(stdout)))
    good = ew_fail(&error, "standard output: %s", g_strerror(errno));
  ew_call_end_progress();
  g_autoptr(GError) trouble = ew_book_take_trouble();
  if (good && !error && trouble) /* something read around it */
    error = g_steal_pointer(&trouble);
  if (good && !error)
    return 0;
  if (!error)
    ew_fail(&error, "%s failed without giving a reason", command->name);
  fflush(stdout); /* what was printed stands before what is wrong with it, in one pipe too */
  if (*error->message)
    complain(error);
  return exit_code(error);
}

/* The vector level may be set for tests and comparisons; any other word would be ignored. */
static gboolean vector_level_known(void) {
  const char *level = g_getenv("ENGINEWRIGHT_SIMD");
  if (!level)
    return TRUE;
  g_autoptr(GString) names = g_string_new(NULL);
  for (int i = 0; ew_cycle_backends[i]; i++) {
    if (strcmp(level, ew_cycle_backends[i]->name) == 0)
      return TRUE;
    g_string_append_printf(names, "%s%s", i ? ", " : "", ew_cycle_backends[i]->name);
  }
  complain_of("ENGINEWRIGHT_SIMD '%s' is not one of %s", level, names->str);
  return FALSE;
}

static const char *called_as = "enginewright";

const char *ew_called_as(void) {
  return called_as;
}

/* An option of this name, of any command: whether it takes a value is the same for all that have it. */
static const struct ew_option_spec *find_anywhere(const char *name, GPtrArray *names) {
  for (int i = -1; i < 0 || ew_commands[i]; i++)
    for (const struct ew_option_spec *spec = i < 0 ? common : ew_commands[i]->options;
         spec && spec->name; spec++) {
      if (strcmp(spec->name, name) == 0)
        return spec;
      g_ptr_array_add(names, ew_as_pointer(spec->name));
    }
  return NULL;
}

static gboolean refuse_anywhere(const char *name, const GPtrArray *names) {
  const char *near = ew_suggest(name, (const char *const *)names->pdata, names->len);
  if (near)
    complain_of("no command has an option --%s; did you mean --%s? 'enginewright help' lists the "
                "commands",
                name, near);
  else
    complain_of("no command has an option --%s; 'enginewright help' lists the commands", name);
  return FALSE;
}

/* Options that stand before a word of the command, from *at on, go into `moved` as "--name=value": they are
 * read as if they stood behind it. FALSE after a refusal. */
static gboolean take_leading(int argc, char **argv, int *at, GPtrArray *moved) {
  for (; *at < argc && g_str_has_prefix(argv[*at], "--") && argv[*at][2]; ++*at) {
    const char *given = argv[*at] + 2, *equals = strchr(given, '=');
    g_autofree char *name = equals ? g_strndup(given, (gsize)(equals - given)) : g_strdup(given);
    g_autoptr(GPtrArray) names = g_ptr_array_new();
    const struct ew_option_spec *spec = find_anywhere(name, names);
    if (!spec)
      return refuse_anywhere(name, names);
    if (equals || !spec->value) {
      g_ptr_array_add(moved, g_strdup(argv[*at]));
      continue;
    }
    if (*at + 1 >= argc || g_str_has_prefix(argv[*at + 1], "--")) {
      complain_of("--%s needs a value: %s", name, ew_tr(spec->value));
      return FALSE;
    }
    g_ptr_array_add(moved, g_strdup_printf("--%s=%s", name, argv[++*at]));
  }
  return TRUE;
}

/* The command by its one or two words, wherever options stand between them; what is left is run with it. */
static int run_words(int argc, char **argv) {
  g_autoptr(GPtrArray) all = g_ptr_array_new_with_free_func(g_free);
  char *words[2];
  int count = 0, used = 0, at = 0;
  const struct ew_command *command = NULL;
  while (!command && count < 2) {
    if (!take_leading(argc, argv, &at, all))
      return 2;
    if (at == argc)
      break;
    words[count++] = argv[at++];
    command = find_command(count, words, &used);
  }
  if (count == 0)
    return complain_of("a command is needed after the options; 'enginewright help' lists them");
  if (!command && count == 1 && is_group(words[0]) &&
      g_ptr_array_find_with_equal_func(all, "--help", g_str_equal, NULL))
    return run(&ew_command_help, 1, words);
  if (!command)
    return refuse_command(count, words);
  g_assert(used == count);
  for (; at < argc; at++)
    g_ptr_array_add(all, g_strdup(argv[at]));
  return run(command, (int)all->len, (char **)all->pdata);
}

int ew_main(int argc, char **argv) {
  if (argc > 0 && argv[0] && *argv[0])
    called_as = argv[0];
  g_autoptr(GError) error = NULL;
  if (!settle_language(argc, argv, &error)) {
    complain(error);
    return 2;
  }
  if (!vector_level_known())
    return 2;
  if (argc < 2 || (argc == 2 && strcmp(argv[1], "--help") == 0) || strcmp(argv[1], "-h") == 0)
    return run(&ew_command_help, 0, NULL);
  if (strcmp(argv[1], "--version") == 0) {
    puts("enginewright " EW_VERSION);
    return 0;
  }
  return run_words(argc - 1, argv + 1);
}
