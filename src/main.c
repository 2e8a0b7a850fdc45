/* The command line. One BLAS thread, so that sums come out the same on any machine load; our own
 * loops are spread by parallel_for. */
#include "command/command.h"

#include <gsl/gsl_errno.h>
#include <locale.h>

void openblas_set_num_threads(int threads); /* cblas.h would clash with GSL's */

int main(int argc, char **argv) {
    setlocale(LC_CTYPE, "C.UTF-8"); /* numbers keep their decimal point */
    openblas_set_num_threads(1);
    gsl_set_error_handler_off();
    return command_run(argc, argv, stdout, stderr);
}
