/* The command line. One BLAS thread, so that sums come out the same on any machine load; our own
 * loops are spread by parallel_for. Memory of JSON is counted with ours, so that a step in which
 * there was none for a row is refused and not stored without it. */
#include "base/mem.h"
#include "command/command.h"

#include <gsl/gsl_errno.h>
#include <jansson.h>
#include <locale.h>

void openblas_set_num_threads(int threads); /* cblas.h would clash with GSL's */

int main(int argc, char **argv) {
    setlocale(LC_CTYPE, "C.UTF-8"); /* numbers keep their decimal point */
    openblas_set_num_threads(1);
    gsl_set_error_handler_off();
    json_set_alloc_funcs(mem_bytes, mem_free);
    return command_run(argc, argv, stdout, stderr);
}
