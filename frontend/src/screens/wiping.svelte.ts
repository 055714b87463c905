/** Whether the screen is being wiped: nothing that touches it counts meanwhile. */
class Wiping {
  on = $state(false);

  begin(): void {
    this.on = true;
  }

  end(): void {
    this.on = false;
  }
}
export const wiping = new Wiping();
