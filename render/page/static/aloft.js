// On a narrow screen the look stays in sight, small at the head of it, while its page is scrolled.

const NARROW = "(max-width: 640px) and (min-height: 560px)"; // a phone held upright

// plate: the figure of the look; mount: what stays in sight.
export function aloft(plate, mount) {
  const narrow = window.matchMedia(NARROW);
  const root = document.documentElement;
  let gone = false; // whether the figure has left the screen by its upper edge

  function put() {
    const up = narrow.matches && gone && !plate.hidden;
    if (root.classList.contains("aloft") === up) return;
    // Its place in the figure is kept, so that nothing jumps.
    plate.style.paddingTop = up ? `${mount.offsetHeight}px` : "";
    root.classList.toggle("aloft", up);
  }
  new IntersectionObserver(([{ isIntersecting, boundingClientRect }]) => {
    gone = !isIntersecting && boundingClientRect.top < 0;
    put();
  }).observe(plate);
  narrow.addEventListener("change", put);
}
