#include "command/command.h"
#include "serve/server.h"

#include <qrencode.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* A sign for a phone, two rows of it in one line of text. */
static void print_sign(const char *text, FILE *out) {
    QRcode *code = QRcode_encodeString8bit(text, 0, QR_ECLEVEL_M);
    if (!code) return;
    enum { QUIET = 2 };
    int w = code->width;
    for (int y = -QUIET; y < w + QUIET; y += 2) {
        for (int x = -QUIET; x < w + QUIET; x++) {
            bool inside = x >= 0 && x < w;
            bool upper = inside && y >= 0 && y < w && code->data[y * w + x] & 1;
            bool lower = inside && y + 1 >= 0 && y + 1 < w && code->data[(y + 1) * w + x] & 1;
            /* Light on dark terminals and dark on light ones both scan. */
            fputs(upper && lower ? " " : upper ? "\u2584" : lower ? "\u2580" : "\u2588", out);
        }
        fputc('\n', out);
    }
    QRcode_free(code);
}

static void open_browser(const char *address) {
    if (!getenv("DISPLAY") && !getenv("WAYLAND_DISPLAY")) return;
    if (fork() == 0) {
        if (!freopen("/dev/null", "w", stdout) || !freopen("/dev/null", "w", stderr)) _exit(126);
        execlp("xdg-open", "xdg-open", address, (char *)NULL);
        _exit(127);
    }
}

int command_serve(struct command_line *line, struct error *err) {
    const char *port = command_option(line, "--port");
    long number = port ? strtol(port, NULL, 10) : 0;
    if (port && (number < 1024 || number > 65535))
        return fail(err, ERR_USAGE, "Leave it out to take any free port.",
                    "--port must be from 1024 to 65535, not \"%.20s\".", port);
    bool share = command_option(line, "--share") != NULL;
    const char *hours = command_option(line, "--for");
    double lasting = hours ? strtod(hours, NULL) : 12;
    if (!(lasting > 0 && lasting <= 24 * 31))
        return fail(err, ERR_USAGE, "Give hours, as 12.", "--for: \"%.20s\" is no time.", hours);
    const struct server_options options = {.port = (unsigned short)number,
                                           .share = share,
                                           .share_for = 3600 * lasting,
                                           .who = command_option(line, "--who")};
    /* Signals are taken in turn below, never in the middle of something. */
    sigset_t stop;
    sigemptyset(&stop);
    sigaddset(&stop, SIGINT);
    sigaddset(&stop, SIGTERM);
    pthread_sigmask(SIG_BLOCK, &stop, NULL);
    signal(SIGPIPE, SIG_IGN);
    signal(SIGCHLD, SIG_IGN);
    struct server *server;
    int rc = server_start(&server, line->args[0], &options, err);
    if (rc) return rc;
    fprintf(line->out, "Open in a browser:  %s\nStop with:          Ctrl-C\n",
            server_address(server));
    if (share) {
        char *read = server_share_address(server, false, line->arena),
             *write = server_share_address(server, true, line->arena);
        if (!read || !write)
            fprintf(line->out, "There is no network to share on; this machine alone is served.\n");
        else {
            fprintf(line->out, "\nTo look (for %g hours):   %s\n", lasting, read);
            print_sign(read, line->out);
            fprintf(line->out, "\nTo enter (for %g hours):  %s\n", lasting, write);
            print_sign(write, line->out);
        }
    }
    fflush(line->out);
    if (!command_option(line, "--quiet")) open_browser(server_address(server));
    int got;
    sigwait(&stop, &got);
    server_stop(server);
    fprintf(line->out, "\nStopped.\n");
    return 0;
}
