#include "views/report_style.hpp"

#include <fmt/format.h>

#include "views/palette.hpp"

namespace lotwear {

namespace {

std::string inks_of(const PageInks& page) {
  return fmt::format(
      "--page:{};--card:{};--tint:{};--edge:{};--ink:{};--quiet:{};--link:{};--leave:{};--repaint:{};--grind:{};--warn:"
      "{};"
      "--band:{};--band-ink:{};--band-quiet:{};",
      hex(page.page), hex(page.card), hex(page.tint), hex(page.edge), hex(page.ink), hex(page.quiet_ink),
      hex(page.link_ink), hex(page.leave_ink), hex(page.repaint_ink), hex(page.grind_ink), hex(page.warn_ink),
      hex(page.band), hex(page.band_ink), hex(page.band_quiet_ink));
}

constexpr const char* kScreen = R"(
*{box-sizing:border-box}
html{font:16px/1.5 "Segoe UI","Gill Sans Nova",Ubuntu,"DejaVu Sans",system-ui,sans-serif;color:var(--ink);background:var(--page);
 -webkit-text-size-adjust:100%}
body{margin:0}
a{color:var(--link)}
a:focus-visible,[tabindex]:focus-visible{outline:3px solid var(--link);outline-offset:2px}
.skip{position:absolute;left:-99em}
.skip:focus{left:1em;top:1em;background:var(--card);padding:.5em 1em;z-index:2}
.defs{position:absolute}
.wide{max-width:72rem;margin:0 auto;padding:0 1.5rem}
.cover{background:var(--band);color:var(--band-ink);padding:2.2rem 0 0}
.cover h1{font-size:2.3rem;line-height:1.15;margin:0 0 .2em;letter-spacing:-.01em;overflow-wrap:anywhere}
.cover .kicker{margin:0 0 .6rem;color:var(--band-quiet);font-weight:600}
.cover dl{display:flex;flex-wrap:wrap;gap:.3rem 2.2rem;margin:1rem 0 1.8rem}
.cover dt{color:var(--band-quiet);font-size:.85rem}
.cover dd{margin:0;overflow-wrap:anywhere}
.dashes{display:block;width:100%;height:14px}
nav ul{display:flex;flex-wrap:wrap;gap:.2rem 1.4rem;list-style:none;margin:0;padding:.8rem 0}
nav{border-bottom:1px solid var(--edge)}
h2{font-size:1.5rem;line-height:1.2;margin:2.6rem 0 .8rem;padding-left:2.7rem;position:relative}
h2::before{content:"";position:absolute;left:0;top:.5em;width:2rem;height:.28em;background:currentColor}
h3{font-size:1.1rem;margin:1.6rem 0 .4rem}
p{margin:.5em 0;max-width:46em}
.lead{font-size:1.15rem}
.counts{display:grid;grid-template-columns:repeat(auto-fit,minmax(15rem,1fr));gap:1rem;list-style:none;padding:0;margin:1.4rem 0}
.counts li{background:var(--card);border:1px solid var(--edge);border-top:5px solid currentColor;border-radius:4px;padding:.8rem 1rem}
.counts .many{font-size:2.2rem;font-weight:700;line-height:1.1}
.counts .what{font-weight:700}
.counts p{color:var(--ink);margin:.3em 0 0}
.leave{color:var(--leave)}.repaint{color:var(--repaint)}.grind{color:var(--grind)}
.sign{width:.95em;height:.95em;vertical-align:-.1em;margin-right:.4em}
.glance{display:flex;flex-wrap:wrap;gap:.6rem .5rem;list-style:none;padding:0;margin:1rem 0}
.glance a{display:block;text-align:center;text-decoration:none;font-size:.78rem;min-width:3rem;color:var(--ink)}
.glance .sign{display:block;margin:0 auto .25rem}
.glance .stripe{display:block;margin:0 auto .15rem}
.key{display:flex;flex-wrap:wrap;gap:.2rem 1.2rem;list-style:none;padding:0;margin:.4rem 0;font-size:.9rem}
.stripe{width:24px;height:94px}
.swatch{width:18px;height:12px;margin-right:.45em;vertical-align:-.05em}
.scroll{overflow-x:auto}
table{border-collapse:collapse;width:100%;font-size:.92rem;margin:.6rem 0}
caption{text-align:left;color:var(--quiet);padding-bottom:.4rem}
th,td{text-align:left;vertical-align:top;padding:.42rem .7rem .42rem 0;border-bottom:1px solid var(--edge)}
thead th{border-bottom:2px solid var(--ink);font-size:.85rem}
tbody th{font-weight:600}
th .quiet{font-weight:400}
.n{text-align:right;font-variant-numeric:tabular-nums}
td.n,th.n{padding-left:.5rem;padding-right:1.4rem}
td.n:last-child,th.n:last-child{padding-right:.2rem}
tfoot th,tfoot td{font-weight:600}
tfoot tr:last-child th,tfoot tr:last-child td{border-bottom:0;font-size:1.1rem}
.nowrap{white-space:nowrap}
.hash{font-family:ui-monospace,"DejaVu Sans Mono",monospace;font-size:.78rem;overflow-wrap:anywhere}
.card{background:var(--card);border:1px solid var(--edge);border-radius:4px;padding:1.1rem 1.3rem 1.2rem;margin:0 0 1.5rem}
.card header{display:flex;flex-wrap:wrap;align-items:baseline;gap:.1rem 1rem;margin-bottom:.8rem}
.card h3{margin:0;font-size:1.25rem}
.card header p{margin:0}
.card .verdict{margin-left:auto;font-weight:700;white-space:nowrap}
.quiet{color:var(--quiet)}
.pictures{display:grid;grid-template-columns:1.25fr 1fr 1.15fr;gap:1.4rem;margin-bottom:1rem}
figure{margin:0;min-width:0;display:flex;flex-direction:column}
figure .mat{background:var(--tint);flex:1;display:flex;align-items:center;justify-content:center;min-height:8rem}
figure img{display:block;max-width:100%;max-height:21rem;width:auto;height:auto;object-fit:contain}
figcaption{font-size:.85rem;color:var(--quiet);padding-top:.3rem}
.missing{padding:1rem;color:var(--quiet);overflow-wrap:anywhere;text-align:center}
.thirds{display:grid;grid-template-columns:1.25fr 1fr 1.15fr;gap:0 1.4rem}
.card h4{font-size:.95rem;margin:.9rem 0 .2rem}
.card h4:first-child{margin-top:0}
.card ul{margin:.2rem 0;padding-left:1.2rem}
.card ul.key{padding-left:0}
.left{font-size:1.1rem;font-weight:700;margin:0 0 .3rem}
.gauge{display:block;width:100%;max-width:30rem;height:auto}
.cover .copy{display:inline-block;margin:.4rem 0;padding:.15rem .7rem;border:2px solid currentColor;font-weight:700}
.drawing{max-width:62rem}
.pair{display:grid;grid-template-columns:1fr 1.8fr;gap:0 2.5rem}
.plan,.schedule{display:block;width:100%;height:auto}
.options{display:grid;grid-template-columns:repeat(auto-fit,minmax(17rem,1fr));gap:1rem;list-style:none;padding:0;margin:1rem 0}
.options>li{background:var(--card);border:1px solid var(--edge);border-radius:4px;padding:.8rem 1.1rem}
.options>li.chosen{border:3px solid var(--ink);padding:calc(.8rem - 2px) calc(1.1rem - 2px)}
.options h3{margin:0}.options h4{margin:.8rem 0 .2rem;font-size:.95rem}
.options ul{padding-left:1.1rem;margin:.2rem 0}
.options .total{font-size:1.6rem;font-weight:700;margin:.1rem 0 .3rem}
.choices{list-style:none;padding:0;margin:1rem 0}.choices li{margin:.5rem 0}
.box{display:inline-block;width:1em;height:1em;border:2px solid var(--ink);margin-right:.7em;vertical-align:-.15em}
.sign-here{display:grid;grid-template-columns:1fr 1fr;gap:2.5rem}
.sign-here h3{margin:.6rem 0 0}
.sign-here p{margin:0;font-size:.85rem;color:var(--quiet)}
.rule{display:block;height:2.6rem;border-bottom:1px solid var(--ink)}
.facts{display:grid;grid-template-columns:minmax(4.5rem,max-content) 1fr;gap:.1rem .8rem;margin:.2rem 0;font-size:.92rem}
.facts dt{color:var(--quiet)}.facts dd{margin:0;overflow-wrap:anywhere}
.flag{border-left:5px solid var(--warn);padding:.35rem .8rem;margin:.6rem 0;background:var(--tint)}
.flag b{color:var(--warn)}
.flag.grind-flag{border-color:var(--grind)}.grind-flag b{color:var(--grind)}
.note{white-space:pre-line;overflow-wrap:anywhere}
.guides{columns:2;column-gap:2.5rem}
.guides section{break-inside:avoid;margin-bottom:1.2rem}
.guides h3{margin-top:0}
.guides ul{padding-left:1.2rem;margin:.3rem 0}
.source{font-size:.85rem;color:var(--quiet)}
footer{border-top:1px solid var(--edge);margin-top:3rem;padding:1rem 0 2rem;color:var(--quiet);font-size:.9rem}
@media screen and (max-width:64rem){.thirds{grid-template-columns:1fr 1fr}.thirds>:first-child{grid-row:span 2}}
@media screen and (max-width:46rem){.pictures,.thirds,.pair{grid-template-columns:1fr}.guides{columns:1}.card .verdict{margin-left:0;width:100%}
 .cover h1{font-size:1.7rem}}
)";

// Print: no page ground, little ink; a card, a row and a heading with its first lines stay together; heads of tables
// come again on every page. Lengths fit A4 and Letter alike, whose printable widths here differ by 6 mm.
constexpr const char* kPrint = R"(
@page{margin:14mm 13mm 15mm}
@page{@bottom-right{content:counter(page) " / " counter(pages);font:8pt "DejaVu Sans",sans-serif;color:#555}}
@media print{
:root{color-scheme:light}
html{font-size:9.6pt;line-height:1.4;background:none}
.wide{max-width:none;padding:0}
nav,.skip{display:none}
.cover{background:none;color:var(--ink);padding:0;border-bottom:2pt solid var(--ink)}
.cover .kicker,.cover dt{color:var(--quiet)}
.cover h1{font-size:22pt}.cover dl{margin:.6rem 0 .8rem}
.dashes{display:none}
a{color:inherit;text-decoration:none}
h2{margin:1.5rem 0 .5rem;font-size:14pt}
h2,h3,h4,thead{break-after:avoid}
h2+p,caption{break-after:avoid}
.guides section{break-inside:auto}.guides li,.guides p{break-inside:avoid}
p,li{orphans:3;widows:3}
.scroll{overflow:visible}
.keep{break-inside:avoid}
table{font-size:8.6pt}
thead{display:table-header-group}
tr,.counts,.counts li,.glance li,figure,.flag,tfoot{break-inside:avoid}
tfoot{display:table-row-group}
.counts,.options{grid-template-columns:1fr 1fr 1fr}
.options{gap:3mm;font-size:8.8pt}.options>li{break-inside:avoid;padding:2mm 3mm;background:none}.options>li.chosen{padding:2mm 3mm}
.options .total{font-size:14pt}
.card{break-inside:avoid;padding:2.5mm 3.5mm;margin-bottom:4mm;background:none}
.card header{margin-bottom:2mm}
.pictures{gap:4mm;margin-bottom:2mm}
figure .mat{min-height:0;background:none;border:.4pt solid var(--edge)}
figure img{max-height:35mm}
.thirds{gap:0 4mm;font-size:8.6pt;line-height:1.32}
.card h3{font-size:12pt}.card h4{margin:1.6mm 0 .4mm;font-size:8.8pt}.card p{margin:.3mm 0}.left{font-size:10pt}
.facts,.key,figcaption{font-size:8pt}.facts{gap:0 2mm;grid-template-columns:minmax(13mm,max-content) 1fr}
.card .flag{padding:.6mm 2mm;margin:1mm 0}
.flag{background:none;border:.6pt solid var(--warn);border-left-width:4pt}
.flag.grind-flag{border-color:var(--grind)}
.hash{font-size:6.8pt}
footer{margin-top:1rem;padding:.5rem 0}
}
)";

}  // namespace

std::string page_inks() {
  return fmt::format(
      ":root{{color-scheme:light dark;{}}}\n@media screen and (prefers-color-scheme:dark){{:root{{{}}}}}\n",
      inks_of(kLightPage), inks_of(kDarkPage));
}

std::string page_inks_by_choice() {
  return page_inks() +
         fmt::format(
             ":root[data-theme=light]{{color-scheme:light;{}}}\n:root[data-theme=dark]{{color-scheme:dark;{}}}\n"
             ":root{{--s-paint:{};--s-abraded:{};--s-flaked:{};--s-cracked:{};--s-older:{}}}\n",
             inks_of(kLightPage), inks_of(kDarkPage), hex(kPaintLeft), hex(kAbraded), hex(kFlaked), hex(kCracked),
             hex(kOlderCoat));
}

std::string report_style() { return page_inks() + kScreen + kPrint; }

}  // namespace lotwear
