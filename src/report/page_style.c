/* page_style.c - what the page looks like on a screen, on a narrow one, and on paper. */
#include "report/page_parts.h"
#include "report/palette.h"

/* Read as text by XML and as raw text by HTML: no < > & in it. */
static const char *const rules[] = {
    "html{color:" PALETTE_INK ";background:" PALETTE_PAPER ";font:100%/1.5 'Source Serif 4',"
    "Charter,Georgia,'Liberation Serif',serif;-webkit-text-size-adjust:100%}",
    "body{max-width:66rem;margin:0 auto;padding:1.5rem 1rem 4rem}",
    "h1{font-size:1.7rem;line-height:1.2;margin:0 0 .3rem;overflow-wrap:anywhere}",
    "h2{font-size:1.2rem;margin:2.6rem 0 .6rem;padding-top:.5rem;border-top:1px solid "
    PALETTE_RULE ";break-after:avoid}",
    "h3{font-size:1rem;margin:1.4rem 0 .3rem;break-after:avoid}",
    "p,ul,ol,dl{max-width:44rem;margin:.5rem 0;overflow-wrap:anywhere}",
    "ul,ol{padding-left:1.3rem}li{margin:.25rem 0}",
    "section.said ul{list-style:none}section.said ul li{text-indent:-.9rem;padding-left:.9rem}",
    ".soft{color:" PALETTE_SOFT "}",
    ".decision{font-size:1.2rem;line-height:1.4;border-left:.25rem solid " PALETTE_INK
    ";padding:.1rem 0 .1rem .9rem;margin:1rem 0}",
    ".good{color:" PALETTE_GOOD "}.bad{color:" PALETTE_BAD "}.doubt{color:" PALETTE_DOUBT "}",
    ".row{display:flex;flex-wrap:wrap;gap:1rem 1.5rem;align-items:flex-start;margin:.8rem 0}",
    "figure{margin:0;break-inside:avoid;max-width:100%}",
    "figcaption{color:" PALETTE_SOFT ";font-size:.85rem;line-height:1.35;max-width:20rem;"
    "overflow-wrap:anywhere}",
    "svg{display:block;max-width:100%;height:auto}",
    ".wide{overflow-x:auto}",
    "table{border-collapse:collapse;font:.85rem/1.35 'Source Sans 3','Helvetica Neue',"
    "'Liberation Sans',Arial,sans-serif;font-variant-numeric:tabular-nums}",
    "caption{text-align:left;font-weight:600;padding:.2rem 0;overflow-wrap:anywhere}",
    "th,td{padding:.15rem .8rem .15rem 0;text-align:right;vertical-align:top;"
    "border-bottom:1px solid " PALETTE_RULE "}",
    "thead th{font-weight:400;color:" PALETTE_SOFT ";vertical-align:bottom}",
    "table+table,ul+table{margin-top:1rem}tbody th{font-weight:600}.flats th:first-child,.flats td.word{text-align:left}",
    ".flats tbody th{min-width:4.5rem;max-width:12rem;overflow-wrap:anywhere}"
    ".flats thead th{max-width:6.5rem}.flats td{white-space:nowrap}",
    ".columns{columns:13rem;column-gap:1.6rem}",
    ".columns div{break-inside:avoid;margin:0 0 1rem}.columns tbody th{font-weight:400}",
    "footer{margin-top:3rem;color:" PALETTE_SOFT ";font-size:.85rem}",
    "@page{margin:16mm 15mm;@bottom-right{content:counter(page)}}",
    "@media print{html{font-size:10pt}body{padding:0;max-width:none}.wide{overflow:visible}"
    "thead{display:table-header-group}tr{break-inside:avoid}.row{gap:.6rem 1rem}"
    "h2{margin-top:1.6rem}p{orphans:3;widows:3}p:has(+.row){break-after:avoid}}"};

void page_style(markup *m)
{
    markup_open(m, "style");
    for (size_t i = 0; i < sizeof rules / sizeof rules[0]; i++) {
        markup_line(m);
        fputs(rules[i], m->out);
    }
    markup_line(m);
    markup_close(m);
}
