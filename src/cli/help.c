/* help, completion and the man page, all from the commands' own descriptions. */
#include "cli/command.h"
#include <stdio.h>
#include <string.h>

#define WIDTH 118

/* "  left      right" with the right side at a column of its own. */
static void print_row(const char *left, int wide, const char *right) {
  int blanks = wide - (int)g_utf8_strlen(left, -1);
  printf("  %s%*s %s\n", left, MAX(blanks, 0), "", right);
}

/* FALSE: no command begins with this word. */
static gboolean list_group(const char *noun) {
  gsize length = strlen(noun);
  gboolean found = FALSE;
  for (int i = 0; ew_commands[i]; i++)
    if (strncmp(ew_commands[i]->name, noun, length) == 0 && ew_commands[i]->name[length] == ' ') {
      print_row(ew_commands[i]->name, 20, ew_tr(ew_commands[i]->summary));
      found = TRUE;
    }
  if (found)
    puts(ew_tr("\n'enginewright help COMMAND' shows options and examples."));
  return found;
}

static void list_commands(void) {
  puts(ew_tr("Enginewright: proves custom piston engines on an engine dyno.\n"
             "Every number carries its unit, conditions, uncertainty and origin; every \"that was "
             "better\" is a tested statement.\n"));
  for (int i = 0; ew_commands[i]; i++)
    print_row(ew_commands[i]->name, 20, ew_tr(ew_commands[i]->summary));
  puts(ew_tr("\n'enginewright help COMMAND' shows options and examples. Begin with 'enginewright "
             "demo',\nor with your own file: 'enginewright look FILE'."));
}

/* Where a line that is too long for a page is broken: at its last blank within the width, counted in characters; NULL:
 * it has none. */
static char *break_of(char *line) {
  if (g_utf8_strlen(line, -1) <= WIDTH)
    return NULL;
  char *space = g_utf8_offset_to_pointer(line, WIDTH);
  while (space > line && *space != ' ')
    space--;
  return space > line ? space : NULL;
}

/* Lines as they were written; what is longer than a page is wide continues in the next. */
static void print_lines(const char *text) {
  g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
  for (int i = 0; lines[i]; i++) {
    char *line = lines[i];
    for (char *space; (space = break_of(line)); line = space + 1) {
      *space = 0;
      puts(line);
    }
    puts(line);
  }
}

static char *option_form(const struct ew_option_spec *o) {
  return o->value ? g_strdup_printf("--%s %s%s", o->name, ew_tr(o->value), o->many ? "..." : "")
                  : g_strdup_printf("--%s", o->name);
}

static void help_options(const struct ew_command *c) {
  if (c->options && c->options->name)
    printf("\n%s\n", ew_tr("Options:"));
  for (const struct ew_option_spec *o = c->options; o && o->name; o++) {
    g_autofree char *form = option_form(o);
    print_row(form, 26, ew_tr(o->help));
  }
  if (!c->prints_text)
    print_row("--json", 26, ew_tr("answer in JSON"));
  print_row("--units si|us", 26, ew_tr("units of the text that is printed"));
  g_autofree char *language = g_strdup_printf("--language %s", ew_tr("CODE"));
  print_row(language, 26,
            ew_tr("language of the text that is printed: en, de, or a .mo catalogue"));
}

static void help_one(const struct ew_command *c) {
  printf("enginewright %s%s%s\n\n%s.\n", c->name, *c->takes ? " " : "",
         *c->takes ? ew_tr(c->takes) : "", ew_tr(c->summary));
  if (c->more) {
    puts("");
    print_lines(ew_tr(c->more));
  }
  help_options(c);
  printf("\n%s\n", ew_tr("Examples:"));
  g_auto(GStrv) lines = g_strsplit(ew_tr(c->examples), "\n", -1);
  for (int i = 0; lines[i]; i++)
    printf("  enginewright %s\n", lines[i]);
}

static gboolean find_and_help(const char *name, GError **error) {
  for (int i = 0; ew_commands[i]; i++)
    if (strcmp(ew_commands[i]->name, name) == 0) {
      help_one(ew_commands[i]);
      return TRUE;
    }
  return list_group(name) ||
         ew_refuse(error, "help: '%s' is not a command; 'enginewright help' lists them", name);
}

static gboolean run_help(const struct ew_call *call, GError **error) {
  if (call->arguments->len == 0) {
    list_commands();
    return TRUE;
  }
  g_autofree char *name =
      call->arguments->len > 1
          ? g_strdup_printf("%s %s", ew_call_argument(call, 0), ew_call_argument(call, 1))
          : g_strdup(ew_call_argument(call, 0));
  return find_and_help(name, error);
}
const struct ew_command ew_command_help = {.name = "help",
                                           .prints_text = TRUE,
                                           .summary = EW_TEXT("What a command does, with examples"),
                                           .takes = EW_TEXT("[COMMAND]"),
                                           .most = 2,
                                           .run = run_help,
                                           .examples = "help\nhelp pull add"};

static void complete_command(const struct ew_command *c) {
  printf("    '%s') words=\"%s--units --language --help", c->name, c->prints_text ? "" : "--json ");
  for (const struct ew_option_spec *o = c->options; o && o->name; o++)
    printf(" --%s", o->name);
  puts("\" ;;");
}

static gboolean run_completion(const struct ew_call *call, GError **error) {
  (void)call;
  (void)error;
  puts(
      "# bash completion for enginewright: eval \"$(enginewright completion)\"\n_enginewright() {\n"
      "  local current=${COMP_WORDS[COMP_CWORD]} words='' first=${COMP_WORDS[1]} "
      "both=\"${COMP_WORDS[1]} ${COMP_WORDS[2]}\"");
  g_autoptr(GHashTable) nouns = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  printf("  if [ \"$COMP_CWORD\" -eq 1 ]; then words='");
  for (int i = 0; ew_commands[i]; i++) {
    char *noun = g_strndup(ew_commands[i]->name, strcspn(ew_commands[i]->name, " "));
    if (g_hash_table_add(nouns, noun))
      printf("%s ", noun);
  }
  puts("'\n  else case \"$both\" in");
  for (int i = 0; ew_commands[i]; i++)
    if (strchr(ew_commands[i]->name, ' '))
      complete_command(ew_commands[i]);
  puts("    *) case \"$first\" in");
  for (int i = 0; ew_commands[i]; i++)
    if (!strchr(ew_commands[i]->name, ' '))
      complete_command(ew_commands[i]);
  GHashTableIter iterator;
  gpointer noun;
  g_hash_table_iter_init(&iterator, nouns);
  while (g_hash_table_iter_next(&iterator, &noun, NULL)) {
    gboolean any = FALSE;
    for (int i = 0; ew_commands[i]; i++) {
      const char *blank = strchr(ew_commands[i]->name, ' ');
      if (blank && strncmp(ew_commands[i]->name, noun, strlen(noun)) == 0 &&
          ew_commands[i]->name[strlen(noun)] == ' ') {
        printf(any ? " %s" : "    '%s') words=\"", any ? blank + 1 : (char *)noun);
        if (!any)
          printf("%s", blank + 1);
        any = TRUE;
      }
    }
    if (any)
      puts("\" ;;");
  }
  puts("  esac ;;\n  esac; fi\n  mapfile -t COMPREPLY < <(compgen -W \"$words\" -f -- "
       "\"$current\")\n}\n"
       "complete -o filenames -F _enginewright enginewright");
  return TRUE;
}
const struct ew_command ew_command_completion = {.name = "completion",
                                                 .prints_text = TRUE,
                                                 .summary =
                                                     EW_TEXT("Completion for the bash shell"),
                                                 .takes = "",
                                                 .run = run_completion,
                                                 .examples = "completion"};

/* A line that begins with a full stop or a quotation mark would be taken for a request of roff. */
static void roff(const char *text) {
  if (*text == '.' || *text == '\'')
    fputs("\\&", stdout);
  for (const char *c = text; *c; c++) {
    if (*c == '-')
      fputs("\\-", stdout);
    else if (*c == '\\')
      fputs("\\e", stdout);
    else
      putchar(*c);
  }
}

static gboolean run_man(const struct ew_call *call, GError **error) {
  (void)call;
  (void)error;
  puts(".TH ENGINEWRIGHT 1 \"\" \"Enginewright " EW_VERSION "\"");
  printf(".SH %s\nenginewright \\- ", ew_tr("NAME"));
  roff(ew_tr("proves custom piston engines on an engine dyno"));
  printf("\n.SH %s\n.B enginewright\n.I %s\n[%s]\n.SH %s\n", ew_tr("SYNOPSIS"), ew_tr("command"),
         ew_tr("options"), ew_tr("COMMANDS"));
  for (int i = 0; ew_commands[i]; i++) {
    const struct ew_command *c = ew_commands[i];
    printf(".SS ");
    roff(c->name);
    printf(" %s\n", *c->takes ? ew_tr(c->takes) : "");
    roff(ew_tr(c->summary));
    puts(".");
    for (const struct ew_option_spec *o = c->options; o && o->name; o++) {
      printf(".TP\n.B \\-\\-");
      roff(o->name);
      printf(" %s\n", o->value ? ew_tr(o->value) : "");
      roff(ew_tr(o->help));
      puts("");
    }
    printf(".PP\n%s\n.nf\n", ew_tr("Examples:"));
    g_auto(GStrv) lines = g_strsplit(ew_tr(c->examples), "\n", -1);
    for (int k = 0; lines[k]; k++) {
      printf("enginewright ");
      roff(lines[k]);
      puts("");
    }
    puts(".fi");
  }
  printf(".SH \"%s\"\n%s\n", ew_tr("EXIT STATUS"),
         ew_tr("0 done; 1 an answer of no; 2 bad usage or input; 3 internal."));
  return TRUE;
}
const struct ew_command ew_command_man = {.name = "man",
                                          .prints_text = TRUE,
                                          .summary = EW_TEXT("The man page"),
                                          .takes = "",
                                          .run = run_man,
                                          .examples = "man | man -l -"};
