using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>Writes the bars of a section in order, each as close as possible to its old text.</summary>
/// <param name="round">The section's meters, which repeat bar by bar.</param>
internal sealed class ChordText(IReadOnlyList<BarMeter> round)
{
    private IReadOnlyList<string>? _marksBefore;
    private ChordSymbol? _chordBefore;
    private int _counted;

    /// <summary>A bar to write: the text in its brackets, if any, and its marks.</summary>
    public sealed record Bar(string? Bracket, IReadOnlyList<string> Marks)
    {
        /// <summary>The bar's text.</summary>
        public override string ToString() => (Bracket is null ? string.Empty : $"[{Bracket}] ") + string.Join(' ', Marks);
    }

    /// <summary>The next bar, as close as possible to its old text.</summary>
    /// <param name="was">The old text; null for a new bar.</param>
    /// <param name="text">The text that contained it.</param>
    /// <param name="now">The new bar.</param>
    public Bar Next(ChordMarks.WrittenBar? was, string text, ChartBar now)
    {
        var stands = round[_counted % round.Count];
        var bracket = Bracket(was?.Bracket is { } old ? text[(old.Start + 1)..(old.End - 1)] : null, now.Meter, stands);
        _counted += bracket is not null && now.Meter != stands ? 0 : 1;
        var marks = was?.Marks.Select(mark => mark.Text).ToList();
        var repeats = marks is ["%"];
        var resolved = repeats ? _marksBefore : marks;
        var read = resolved is null ? null : Read(resolved, now.Meter);
        IReadOnlyList<string> written;
        if (read is not null && SameChart.Chords(read, now.Chords))
        {
            written = marks!;
            _marksBefore = resolved;
        }
        else
        {
            written = read is not null && !repeats && SameTimes(read, now.Chords) ? OtherChords(resolved!, now.Chords) : [.. ChartWriter.Marks(now)];
            _marksBefore = written;
        }

        _chordBefore = now.Chords[^1].Symbol;
        return new Bar(bracket, written);
    }

    private string? Bracket(string? was, BarMeter meter, BarMeter stands)
    {
        if (was is not null && MeterOf(was, stands) == meter)
        {
            return was;
        }

        if (meter == stands)
        {
            return null;
        }

        var plain = ChartWriter.MeterWord(meter);
        return MeterOf(plain, stands) == meter ? plain : meter.ToString();
    }

    private BarMeter? MeterOf(string word, BarMeter stands) =>
        MeterText.Read(TomlString.Of(word), round.Prepend(stands), Problems.Unread(), string.Empty, out _);

    private List<ChordSpan>? Read(IReadOnlyList<string> marks, BarMeter meter)
    {
        if (ChordMarks.Lengths(marks.Count, meter) is not { } lengths)
        {
            return null;
        }

        var spans = new List<ChordSpan>();
        var at = Span.Zero;
        for (var i = 0; i < marks.Count; i++)
        {
            if (marks[i] != "/")
            {
                if (!ChordSymbol.TryParse(marks[i], out var chord, out _))
                {
                    return null;
                }

                spans.Add(new ChordSpan(at, lengths[i], chord));
            }
            else if (spans.Count > 0)
            {
                spans[^1] = spans[^1] with { Length = spans[^1].Length + lengths[i] };
            }
            else if (_chordBefore is not null)
            {
                spans.Add(new ChordSpan(at, lengths[i], _chordBefore));
            }
            else
            {
                return null;
            }

            at += lengths[i];
        }

        return spans;
    }

    private static bool SameTimes(IReadOnlyList<ChordSpan> a, IReadOnlyList<ChordSpan> b) =>
        a.Count == b.Count && a.Zip(b).All(pair => pair.First.Onset == pair.Second.Onset && pair.First.Length == pair.Second.Length);

    private List<string> OtherChords(IReadOnlyList<string> marks, IReadOnlyList<ChordSpan> chords)
    {
        var written = new List<string>();
        var next = 0;
        for (var i = 0; i < marks.Count; i++)
        {
            // At the start a / continues the chord before.
            var goesOn = marks[i] == "/" && (i > 0 || SameChart.Chords(_chordBefore, chords[0].Symbol));
            next += marks[i] != "/" || i == 0 ? 1 : 0;
            written.Add(goesOn ? "/" : InManner(marks[i], chords[next - 1].Symbol));
        }

        return written;
    }

    /// <summary>A chord's text; with signs for sharps and flats if the old text used signs.</summary>
    public static string InManner(string was, ChordSymbol now)
    {
        if (ChordSymbol.TryParse(was, out var old, out _) && SameChart.Chords(old, now))
        {
            return was;
        }

        var signs = was.AsSpan().IndexOfAny('♯', '♭') >= 0 && !now.IsNoChord;
        if (!signs || !now.Text.StartsWith(now.Root.ToString(), StringComparison.Ordinal))
        {
            return now.Text;
        }

        var text = now.Root.ToSigns() + now.Text[now.Root.ToString().Length..];
        var bass = "/" + now.Bass;
        text = now.HasSlashBass && text.EndsWith(bass, StringComparison.Ordinal) ? text[..^bass.Length] + "/" + now.Bass.ToSigns() : text;
        return ChordSymbol.TryParse(text, out var read, out _) && read.Equals(now) ? text : now.Text;
    }
}
