using System.Globalization;
using System.Net;
using System.Text;
using GrooveLab.Music.Wording;

namespace GrooveLab.Pack;

/// <summary>The index page of a pack: one page of HTML without scripts and without anything from elsewhere. It links to the files beside it.</summary>
internal static class PackIndex
{
    private const string Style = """
        :root { color-scheme: light dark }
        body { font: 1.05rem/1.5 sans-serif; max-width: 46rem; margin: 0 auto; padding: 1rem; overflow-wrap: anywhere }
        h1 { line-height: 1.2; margin: .5rem 0 1rem }
        h2 { border-top: 2px solid; padding-top: 1rem; margin: 2.5rem 0 .25rem }
        h3 { margin: 1.75rem 0 .25rem }
        p { margin: .25rem 0 }
        .ears { border: 2px solid; padding: .5rem .75rem; margin: 0 0 1.5rem }
        details { border-top: 1px solid; padding: .5rem 0; margin-top: .5rem }
        summary { cursor: pointer; font-weight: bold }
        ul { list-style: none; padding: 0; margin: .5rem 0 }
        li { display: flex; flex-wrap: wrap; align-items: center; gap: .25rem 1rem; padding: .25rem 0 }
        li a { flex: 1 1 11rem }
        audio { flex: 2 1 18rem; min-width: 0; height: 2.5rem }
        @media print { audio, .ears { display: none } details { break-inside: avoid } }
        """;

    /// <summary>The page.</summary>
    /// <param name="title">Its title.</param>
    /// <param name="songs">The songs.</param>
    /// <param name="isThere">Whether a file is in the pack.</param>
    public static string Page(string title, IReadOnlyList<PlannedSong> songs, Func<string, bool> isThere)
    {
        var html = new StringBuilder();
        html.Append("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n")
            .Append("<title>").Append(Text(title)).Append("</title>\n<style>\n").Append(Style.ReplaceLineEndings("\n")).Append("\n</style>\n</head>\n<body>\n<h1>").Append(Text(title)).Append("</h1>\n")
            .Append("<p class=\"ears\">Your ears: start with the volume down, above all on headphones, and turn it up once the band plays. Take breaks. If your ears ring or sounds seem dull afterwards, stop.</p>\n");
        if (songs.Count > 1)
        {
            html.Append("<ol>\n");
            foreach (var song in songs)
            {
                html.Append("<li><a href=\"#song-").Append(Number(song)).Append("\">").Append(Number(song)).Append(". ").Append(Text(song.Song.Title)).Append("</a></li>\n");
            }

            html.Append("</ol>\n");
        }

        foreach (var song in songs)
        {
            if (songs.Count > 1)
            {
                html.Append("<h2 id=\"song-").Append(Number(song)).Append("\">").Append(Number(song)).Append(". ").Append(Text(song.Song.Title)).Append("</h2>\n");
            }

            foreach (var version in song.Versions)
            {
                Append(html, version, isThere);
            }
        }

        return html.Append("</body>\n</html>\n").ToString();
    }

    /// <summary>A link from the page to a file of the pack: every character that could mean something else is written as its code.</summary>
    /// <param name="path">The path in the pack.</param>
    public static string Link(string path) => string.Join('/', path.Split('/').Select(Uri.EscapeDataString));

    private static void Append(StringBuilder html, PlannedVersion planned, Func<string, bool> isThere)
    {
        var version = planned.Version;
        if (!version.IsOwn)
        {
            html.Append("<h3>").Append(Text(PackPlan.InKey(version))).Append("</h3>\n");
        }

        var heading = planned.Tempi.Count > 0 ? planned.Tempi[0].Band.Heading : null;
        var meters = heading is null ? string.Empty : string.Join(", ", heading.Meters.Take(4).Select(meter => meter.ToString())) + (heading.Meters.Count > 4 ? ", …" : string.Empty);
        html.Append("<p>").Append(Text($"{version.Chart.Key}; {meters}")).Append("</p>\n");
        if (version.IsOwn && version.Singers.Count > 0)
        {
            html.Append("<p>").Append(Text($"{Words.And([.. version.Singers])} {(version.Singers.Count == 1 ? "sings" : "sing")} in this key.")).Append("</p>\n");
        }

        for (var index = 0; index < planned.Tempi.Count; index++)
        {
            var tempo = planned.Tempi[index];
            html.Append(planned.Tempi.Count == 1 || tempo.Percent == 100 ? "<details open>" : "<details>").Append("<summary>")
                .Append(Text($"{Name(index, planned.Tempi)}{PackSettings.InWords(tempo.Percent)}, {tempo.Tempo}"))
                .Append("</summary>\n<ul>\n");
            foreach (var file in tempo.Files.Where(file => isThere(file.Path)))
            {
                html.Append("<li><a href=\"").Append(Link(file.Path)).Append("\">").Append(Text(file.Label))
                    .Append("</a><audio controls preload=\"none\" src=\"").Append(Link(file.Path)).Append("\"></audio></li>\n");
            }

            html.Append("</ul>\n</details>\n");
        }

        var papers = planned.Papers.Where(paper => isThere(paper.File.Path)).ToList();
        if (papers.Count > 0)
        {
            html.Append("<details open><summary>For the stand and other programs</summary>\n<ul>\n");
            foreach (var paper in papers)
            {
                html.Append("<li><a href=\"").Append(Link(paper.File.Path)).Append("\">").Append(Text(paper.File.Label)).Append("</a></li>\n");
            }

            html.Append("</ul>\n</details>\n");
        }
    }

    // Three tempi, the slowest first, have names.
    private static string Name(int index, IReadOnlyList<PackSounds> tempi) =>
        tempi.Count == 3 && tempi[0].Percent < tempi[1].Percent && tempi[1].Percent < tempi[2].Percent
            ? (index switch { 0 => "slow: ", 1 => "middle: ", _ => "full: " })
            : string.Empty;

    private static string Number(PlannedSong song) => song.Song.Number.ToString(CultureInfo.InvariantCulture);

    // Line ends and other controls have no place in a title.
    private static string Text(string text) => WebUtility.HtmlEncode(string.Concat(text.Select(letter => char.IsControl(letter) ? ' ' : letter)));
}
