/* Each kind has at most two places on this machine. A port is tried by taking it and letting it go; the opener of the source tries it again, and
 * is what decides.
 *
 * A kernel without CAN has no interface of it either: sockets are not asked for here, the names of the interfaces are. */
#include "cell/source_here.h"
#include "base/error.h"
#include "cell/source_kinds.h"
#include <errno.h>
#include <fcntl.h>
#include <net/if.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

static char *text_of(const struct ew_node *typed, const char *name) {
  const struct ew_node *one =
      typed && typed->kind == EW_NODE_MAP ? ew_node_member(typed, name) : NULL;
  return g_strstrip(g_strdup(one && one->text ? one->text : ""));
}

static gboolean is_line(const char *device, GError **error) {
  struct termios line;
  int fd = open(device, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
  if (fd < 0 && (errno == EACCES || errno == EPERM))
    return ew_refuse(error,
                     "device: this program may not open '%s'; the user it runs as has to be in the "
                     "group that owns it",
                     device);
  if (fd < 0 && errno == EBUSY)
    return ew_refuse(error, "device: another program holds '%s'; end that one first", device);
  if (fd < 0)
    return ew_refuse(
        error,
        "device: '%s' is not here; plug its adapter in, or see by which name it stands "
        "under /dev",
        device);
  gboolean good =
      tcgetattr(fd, &line) == 0 ||
      ew_refuse(error,
                "device: '%s' is not a serial line; see by which name its adapter stands "
                "under /dev",
                device);
  close(fd);
  return good;
}

static gboolean is_interface(const char *name, GError **error) {
  return if_nametoindex(name) != 0 ||
         ew_refuse(
             error,
             "interface: '%s' is not here; plug its adapter in and bring it up, or see what it "
             "is called",
             name);
}

/* What a logger writes is a plain file, in none of the places where the system keeps its own; a link is followed first. */
static gboolean is_loggers(const char *path, GError **error) {
  static const char *const systems[] = {"/dev/", "/proc/", "/sys/", "/etc/", "/boot/"};
  g_autofree char *real = realpath(path, NULL);
  struct stat facts;
  if (!real && errno == EACCES)
    return ew_refuse(error,
                     "path: this program may not look for '%s'; the user it runs as needs "
                     "the right to its folder",
                     path);
  if (!real)
    return TRUE; /* not there yet */
  for (gsize i = 0; i < G_N_ELEMENTS(systems); i++)
    if (g_str_has_prefix(real, systems[i]))
      return ew_refuse(error, "path: '%s' is '%s', and nothing under %s is a file of a logger",
                       path, real, systems[i]);
  if (stat(real, &facts) == 0 && !S_ISREG(facts.st_mode) && !S_ISFIFO(facts.st_mode))
    return ew_refuse(error, "path: '%s' is not a file; name the one that the logger writes", path);
  return access(real, R_OK) == 0 ||
         ew_refuse(error,
                   "path: this program may not read '%s'; the user it runs as needs the "
                   "right to",
                   path);
}

static gboolean has_folder(const char *path, GError **error) {
  g_autofree char *folder = g_path_get_dirname(path);
  if (g_file_test(path, G_FILE_TEST_IS_DIR))
    return ew_refuse(error, "path: '%s' is a folder; name the file in it that the logger writes",
                     path);
  if (!is_loggers(path, error))
    return FALSE;
  return g_file_test(folder, G_FILE_TEST_IS_DIR) ||
         ew_refuse(error, "path: there is no folder '%s'; see where the logger writes", folder);
}

/* Where datagrams would be listened for: by the opener itself. */
static void listens(const struct ew_source_form *form, const struct ew_node *typed,
                    GPtrArray *faults) {
  g_autoptr(GError) problem = NULL;
  g_autofree char *url = ew_source_form_url(form, typed, NULL, "", "", faults);
  if (!url)
    return;
  g_auto(GStrv) parts =
      g_strsplit(url + strlen("udp:"), "?", 2); /* who may send is not of this machine */
  struct ew_source *source = ew_source_class_udp.open(parts[0], &problem);
  if (source) {
    ew_source_class_udp.close(source);
    return;
  }
  const char *field = ew_error_field(problem);
  ew_source_faults_add(faults, field ? field : "address", problem->message);
}

void ew_source_here(const struct ew_source_form *form, const struct ew_node *typed,
                    GPtrArray *faults) {
  static const struct {
    const char *field;
    gboolean (*look)(const char *text, GError **error);
  } places[] = {{"device", is_line}, {"interface", is_interface}, {"path", has_folder}};
  g_assert(faults->len == 0);
  for (gsize i = 0; i < G_N_ELEMENTS(places); i++) {
    g_autoptr(GError) problem = NULL;
    g_autofree char *text = text_of(typed, places[i].field);
    gboolean has = FALSE;
    for (gsize k = 0; k < form->table.count; k++)
      has |= strcmp(form->table.fields[k].name, places[i].field) == 0;
    if (has && !places[i].look(text, &problem))
      ew_source_faults_add(faults, places[i].field, problem->message);
  }
  if (strcmp(form->key, "udp") == 0)
    listens(form, typed, faults);
}
