#include <stdio.h>
int main(void) {
    puts("relict " RELICT_VERSION);
    return 0;
}
