using System.Globalization;
using System.Text;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Sheets;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Sheets;

/// <summary>Draws a sung line: the first notes of its phrases, small chords, large words, and the units with their groups under the words.</summary>
internal static class SingerDrawing
{
    private const double Gutter = 8;
    private const double WordSize = 6, WordAbove = 5.7, WordBelow = 1.6;
    private const double ChordSize = 4.4, ChordHeight = 5.2;
    private const double MarkSize = 3.4, MarkHeight = 4.2;
    private const double CueHeight = 11.5, CueNote = 3.4, CueSign = 4.6, CueSize = 3.4;
    private const double WidestWithCueBeyond = 40;
    private const double Inset = 0.8, WordGap = 1;
    private const double ArchHeight = 2.6;

    // Words are pressed a little before a row takes fewer bars, and to this share before a bar is broken.
    private const double EasyPress = 0.84, WordPress = 0.6;

    /// <summary>Writes a line; one that is too long for a row takes several.</summary>
    /// <param name="line">The line.</param>
    /// <param name="page">Where it is written.</param>
    public static void Write(SungLine line, StringBuilder page)
    {
        var rows = BarRows.Of([.. line.Bars.Select((bar, i) => Needs(bar, i == 0))], BarDrawing.PageWidth - Gutter);
        foreach (var row in rows)
        {
            Write(line.Bars, row, page);
        }
    }

    private static BarNeeds Needs(SungBar bar, bool first)
    {
        var words = Clusters(bar).Select(cluster =>
        {
            var width = cluster.Syllables.Sum(syllable => TextMeasure.Width(Shown(syllable), WordSize, syllable.IsStressed));
            var gaps = Inset + (cluster.Syllables.Count * WordGap);
            return new BarContent(cluster.From, cluster.To, (width * EasyPress) + gaps, (width * WordPress) + gaps);
        });
        var chords = bar.Chords.Select(chord =>
        {
            var width = TextMeasure.Width(ChordDrawing.Plain(chord.Symbol), ChordSize, bold: true);
            return new BarContent(chord.Onset, chord.End, Inset + width + WordGap, Inset + (width * WordPress) + WordGap);
        });
        var least = Math.Max(
            (bar.Cues.Count - (bar.IsPickup ? 1 : 0)) * (CueSign + CueNote + 5),
            bar.Marks.Select(mark => (TextMeasure.Width(mark, MarkSize) * 0.8) + Inset + 1).DefaultIfEmpty(4).Max());
        return new BarNeeds(bar.Meter, bar.From, bar.Length, first, [.. words, .. chords], least);
    }

    // A syllable that stands exactly on its place, because it is stressed, starts a group or a bar or comes late, with those up to the next one: they make room
    // for each other.
    private static List<(Span From, Span To, List<SungSyllableMark> Syllables)> Clusters(SungBar bar)
    {
        var clusters = new List<(Span From, Span To, List<SungSyllableMark> Syllables)>();
        foreach (var syllable in bar.Syllables)
        {
            var place = PlaceOf(syllable, bar);
            var isExact = clusters.Count == 0 || syllable.IsStressed || syllable.Late > Span.Zero || bar.Meter.GroupStartUnits.Any(unit => bar.Meter.Unit * unit == syllable.Onset);
            if (isExact)
            {
                if (clusters.Count > 0)
                {
                    clusters[^1] = clusters[^1] with { To = place };
                }

                clusters.Add((place, bar.From + bar.Length, [syllable]));
            }
            else
            {
                clusters[^1].Syllables.Add(syllable);
            }
        }

        return clusters;
    }

    // Where a syllable stands: where it is sung, or at the end of its bar if that is later.
    private static Span PlaceOf(SungSyllableMark syllable, SungBar bar)
    {
        var end = bar.From + bar.Length;
        return Span.Min(syllable.Onset + syllable.Late, end - ((end - syllable.Onset) / 4));
    }

    private static string Shown(SungSyllableMark syllable) => syllable.Text + (syllable.GoesOn ? "-" : string.Empty);

    private static void Write(IReadOnlyList<SungBar> bars, BarRow row, StringBuilder page)
    {
        var hasCues = row.Pieces.Any(piece => bars[piece.Index].Cues.Any(cue => cue.Onset >= piece.From && cue.Onset < piece.To));
        var marks = row.Pieces.Max(piece => piece.From == bars[piece.Index].From ? bars[piece.Index].Marks.Count : 0);
        var cues = marks * MarkHeight;
        var chords = cues + (hasCues ? CueHeight : 0) + ChordHeight;
        var words = chords + WordAbove;
        var line = words + WordBelow + ArchHeight + 0.6;
        var height = line + 3.2;
        page.Append("<div class=\"row sung\">");
        var first = bars[row.Pieces[0].Index];
        var gutter = new SvgDrawing(Gutter, height);
        if (first.Number > 0 && row.Pieces[0].From == Span.Zero)
        {
            gutter.Text(0, line + 0.8, first.Number.ToString(CultureInfo.InvariantCulture), 3.2, Gutter - 1.5);
        }

        page.Append(gutter.Element("gutter"));
        for (var i = 0; i < row.Pieces.Count; i++)
        {
            var piece = row.Pieces[i];
            var bar = bars[piece.Index];
            var svg = new SvgDrawing(row.WidthOf(piece), height);
            double X(Span at) => row.Scale * (at - piece.From).Wholes.ToDouble();
            if (piece.From == bar.From)
            {
                for (var mark = 0; mark < bar.Marks.Count; mark++)
                {
                    svg.Text(Inset, ((marks - bar.Marks.Count + mark + 1) * MarkHeight) - 1, bar.Marks[mark], MarkSize, svg.Width - Inset - 0.6);
                }
            }

            Cues(svg, bar, piece, X, cues, bar.IsPickup && svg.Width < WidestWithCueBeyond && row.Pieces.Count > 1 ? FreeOfCues(bars, row, row.Pieces[i + 1]) : 0);
            foreach (var chord in bar.Chords.Where(chord => chord.End > piece.From && chord.Onset < piece.To))
            {
                var (at, end) = (Span.Max(chord.Onset, piece.From), Span.Min(chord.End, piece.To));
                svg.Text(X(at) + Inset, chords - 1.1, ChordDrawing.Plain(chord.Symbol), ChordSize, X(end) - X(at) - Inset - (WordGap / 2), bold: true);
            }

            Words(svg, bar, piece, X, words, line);
            Under(svg, bar, piece, row.Scale, line, piece == row.Pieces[^1]);
            page.Append(svg.Element(bar.IsPickup ? "bar pickup" : "bar"));
        }

        page.Append("</div>\n");
    }

    private static void Words(SvgDrawing svg, SungBar bar, BarPiece piece, Func<Span, double> x, double baseline, double line)
    {
        foreach (var cluster in Clusters(bar))
        {
            var shown = cluster.Syllables.FindAll(syllable => PlaceOf(syllable, bar) >= piece.From && PlaceOf(syllable, bar) < piece.To);
            if (shown.Count == 0)
            {
                continue;
            }

            var end = Math.Min(x(cluster.To), svg.Width);
            List<double> natural = [.. shown.Select(syllable => TextMeasure.Width(Shown(syllable), WordSize, syllable.IsStressed))];
            var room = end - x(PlaceOf(shown[0], bar)) - Inset - (shown.Count * WordGap);
            var press = Math.Min(1, Math.Max(0.02, room / natural.Sum()));
            var free = 0.0;
            for (var i = 0; i < shown.Count; i++)
            {
                // As near to its place as those before and after it allow.
                var left = Math.Max(free, x(PlaceOf(shown[i], bar)) + Inset);
                left = Math.Max(free, Math.Min(left, end - (natural.Skip(i).Sum() * press) - ((shown.Count - i) * WordGap)));
                free = left + svg.Text(left, baseline, Shown(shown[i]), WordSize, natural[i] * press, shown[i].IsStressed, "word") + WordGap;
                Marks(svg, shown[i], x, left, free - WordGap, i + 1 < shown.Count ? x(PlaceOf(shown[i + 1], bar)) : end, baseline, line);
            }
        }

        foreach (var breath in bar.Breaths.Where(breath => breath > piece.From && breath <= piece.To))
        {
            var at = Math.Min(x(breath) - 0.7, svg.Width - 0.7);
            svg.Path(FormattableString.Invariant($"M{at - 0.7:0.##} {baseline - 6:0.##}C{at + 0.9:0.##} {baseline - 6.6:0.##} {at + 1.1:0.##} {baseline - 4.4:0.##} {at - 0.5:0.##} {baseline - 3.6:0.##}C{at + 0.1:0.##} {baseline - 4.4:0.##} {at + 0.1:0.##} {baseline - 5:0.##} {at - 0.7:0.##} {baseline - 6:0.##}Z"), 0);
        }
    }

    // The place of the syllable on the line of units, its longer notes, and how late it comes.
    private static void Marks(SvgDrawing svg, SungSyllableMark syllable, Func<Span, double> x, double left, double right, double next, double baseline, double line)
    {
        svg.Line(x(syllable.Onset) + 0.5, line - 1.2, x(syllable.Onset) + 0.5, line, 0.35);
        if (syllable.Notes > 1)
        {
            var end = Math.Min(x(syllable.Onset + syllable.Length), next) - 1.4;
            if (end > right + 0.8)
            {
                svg.Line(right + 0.6, baseline, end, baseline, 0.3);
            }
        }

        if (syllable.Late > Span.Zero)
        {
            // From where it is written to where it is sung.
            var (from, to) = (x(syllable.Onset) + 0.4, left + 0.6);
            svg.Path(FormattableString.Invariant($"M{from:0.##} {line + 2.4:0.##}L{to:0.##} {line + 2.4:0.##}M{to - 1:0.##} {line + 1.6:0.##}L{to:0.##} {line + 2.4:0.##}L{to - 1:0.##} {line + 3.2:0.##}"), 0.4);
        }
    }

    private static void Under(SvgDrawing svg, SungBar bar, BarPiece piece, double scale, double line, bool isLast)
    {
        if (bar.IsPickup)
        {
            // The units before the first bar line.
            svg.Path(FormattableString.Invariant($"M0.5 {line:0.##}H{svg.Width - 0.5:0.##}"), 0.2, dashed: true);
            var unit = bar.Meter.Unit.Wholes.ToDouble() * scale;
            for (var at = svg.Width - unit; at > -0.01; at -= unit)
            {
                svg.Dot(at + 0.5, line, 0.5);
            }

            return;
        }

        BarDrawing.Groups(svg, bar.Meter, piece.From, piece.To, 0, line, scale, ArchHeight);
        if (piece.From == Span.Zero)
        {
            svg.Line(0, line - ArchHeight - 0.6, 0, line + 1.2, 0.5);
        }

        if (isLast)
        {
            svg.Line(svg.Width - 0.25, line - ArchHeight - 0.6, svg.Width - 0.25, line + 1.2, 0.5);
        }
    }

    // How far the cue of a pickup may reach into the bar after it. On a narrow screen other bars may stand at the right edge.
    private static double FreeOfCues(IReadOnlyList<SungBar> bars, BarRow row, BarPiece piece)
    {
        var first = bars[piece.Index].Cues.FirstOrDefault(cue => cue.Onset >= piece.From && cue.Onset < piece.To);
        return first is null ? row.WidthOf(piece) : row.Scale * (first.Onset - piece.From).Wholes.ToDouble();
    }

    // Each cue stands over its first note; where there is no room after it, it moves to the left.
    private static void Cues(SvgDrawing svg, SungBar bar, BarPiece piece, Func<Span, double> x, double top, double beyond)
    {
        var cues = bar.Cues.Where(cue => cue.Onset >= piece.From && cue.Onset < piece.To).ToList();
        var free = 0.0;
        for (var i = 0; i < cues.Count; i++)
        {
            var left = Math.Max(free, x(cues[i].Onset));
            var room = (i + 1 < cues.Count ? Math.Max(x(cues[i + 1].Onset), left) : svg.Width) - left;
            var pitches = cues[i].Pitches;
            var width = Width(pitches);
            if (i + 1 == cues.Count)
            {
                var end = svg.Width + beyond;
                left = Math.Max(free, Math.Min(left, end - width));
                room = end - left;
            }

            if (width > room)
            {
                pitches = [pitches[0]];
                width = Width(pitches);
            }

            if (width <= room + 0.01)
            {
                Staff(svg, left, top, pitches);
                free = left + width;
            }
            else
            {
                free = left + svg.Text(left, top + 6, pitches[0].Name.ToSigns(), CueSize, Math.Max(1, room), bold: true);
            }
        }
    }

    private static double Width(IReadOnlyList<Pitch> pitches) => CueSign + (pitches.Count * CueNote) + pitches.Count(pitch => pitch.Name.Accidental != 0) + 1 + NamesWidth(pitches) + 1.5;

    private static double NamesWidth(IReadOnlyList<Pitch> pitches) => TextMeasure.Width(Names(pitches), CueSize, bold: true);

    private static string Names(IReadOnlyList<Pitch> pitches) => string.Join(' ', pitches.Select(pitch => pitch.Name.ToSigns()));

    // Five lines, with the letter of the line that names the others: G on the second or F on the fourth.
    private static void Staff(SvgDrawing svg, double x, double top, IReadOnlyList<Pitch> pitches)
    {
        const double step = 0.6;
        const int middleOfG = (4 * 7) + 6, middleOfF = (3 * 7) + 1;
        var steps = pitches.Select(pitch => (pitch.Octave * 7) + (int)pitch.Name.Letter).ToList();
        var isG = steps.Average() >= middleOfF + 6;
        var middle = isG ? middleOfG : middleOfF;
        var centre = top + 5.6;
        var staff = CueSign + (pitches.Count * CueNote) + pitches.Count(pitch => pitch.Name.Accidental != 0);
        for (var lineNumber = -2; lineNumber <= 2; lineNumber++)
        {
            svg.Line(x + 0.4, centre + (lineNumber * 2 * step), x + staff, centre + (lineNumber * 2 * step), 0.12);
        }

        svg.Text(x + 0.8, centre + (isG ? 2 * step : -2 * step) + 1.2, isG ? "G" : "F", 3.4, 3.2, bold: true);
        var at = x + CueSign + 0.4;
        for (var i = 0; i < pitches.Count; i++)
        {
            if (pitches[i].Name.Accidental != 0)
            {
                at += 1;
            }

            var place = Math.Clamp(steps[i] - middle, -10, 10);
            var y = centre - (place * step);
            for (var ledger = 6; ledger <= Math.Abs(place); ledger += 2)
            {
                svg.Line(at - 0.5, centre - (Math.Sign(place) * ledger * step), at + 1.9, centre - (Math.Sign(place) * ledger * step), 0.12);
            }

            svg.Path(FormattableString.Invariant($"M{at - 0.05:0.##} {y + 0.1:0.##}C{at + 0.1:0.##} {y - 0.7:0.##} {at + 1.4:0.##} {y - 0.7:0.##} {at + 1.4:0.##} {y - 0.1:0.##}C{at + 1.3:0.##} {y + 0.7:0.##} {at:0.##} {y + 0.7:0.##} {at - 0.05:0.##} {y + 0.1:0.##}Z"), 0);
            if (pitches[i].Name.Accidental > 0)
            {
                svg.Line(at - 0.9, y - 0.9, at - 0.9, y + 0.9, 0.15);
                svg.Line(at - 0.5, y - 1, at - 0.5, y + 0.8, 0.15);
                svg.Line(at - 1.2, y - 0.2, at - 0.2, y - 0.5, 0.25);
                svg.Line(at - 1.2, y + 0.45, at - 0.2, y + 0.15, 0.25);
            }
            else if (pitches[i].Name.Accidental < 0)
            {
                svg.Path(FormattableString.Invariant($"M{at - 1:0.##} {y - 1.4:0.##}V{y + 0.5:0.##}C{at - 0.4:0.##} {y + 0.2:0.##} {at - 0.1:0.##} {y - 0.5:0.##} {at - 0.5:0.##} {y - 0.5:0.##}L{at - 1:0.##} {y - 0.2:0.##}"), 0.2);
            }

            at += CueNote;
        }

        svg.Text(x + staff + 0.8, centre + 1.15, Names(pitches), CueSize, NamesWidth(pitches), bold: true);
    }
}
