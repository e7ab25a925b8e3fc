using System.Globalization;
using System.Text;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.FromScore;

/// <summary>A playing of a section: some bars in playing order.</summary>
/// <param name="Start">Its first bar.</param>
/// <param name="End">The bar after its last one.</param>
/// <param name="Pickup">The length of the pickup into it, at the end of the bar before; zero for none.</param>
/// <param name="Name">The name given in the score; null for none.</param>
internal sealed record Segment(int Start, int End, Span Pickup, string? Name)
{
    public int Bars => End - Start;
}

/// <summary>Cuts a score in playing order into sections: at signs, where the tune rests for two bars or more, and where music comes
/// again.</summary>
/// <remarks>Repetition: of all stretches of at least four bars that come again, the one that saves most written bars is cut out first,
/// less a price for each new border and section; then the next, until none saves anything. Bars are equal if meter, chords and notes are;
/// the last bar of a stretch may differ in the pickup into what follows, and a last quarter of its bars may differ and becomes its
/// endings. One to three bars that this leaves over join what comes before them. A stretch whose words return at its end but not before is cut there: verse and refrain.</remarks>
internal sealed class SectionCutter
{
    private const int Shortest = 4;
    private const int Window = 3;
    private const int MostPlaces = 24;
    private const int MostRounds = 64;
    private const int LongestWhole = 16;
    private const int UsualWhole = 8;
    private const int FewestLines = 3;
    private const int RestingBars = 2;
    private const double SectionPrice = 2;

    // Signs at which sections begin, in playing order. The form of the chart has a step for each, and repetition is looked for between all of them.
    public const int MostBorders = 4_000;

    // What ends a line of words.
    private const string Ends = ".,;:!?…—–";

    private readonly PlayedScore _score;
    private readonly IReadOnlyList<PlayedBar> _bars;
    private readonly int[] _tokens;
    private readonly SortedDictionary<int, Border> _borders = [];
    private readonly bool _isTied;

    public SectionCutter(PlayedScore score)
    {
        _score = score;
        _bars = score.Bars;
        _tokens = Tokens(_bars);
        _isTied = _bars.Any(bar => bar.IsTiedInto);
    }

    /// <summary>A text that is equal for bars with equal meter, chords and notes; ties inside a bar do not matter, words and marks
    /// neither.</summary>
    /// <param name="bar">The bar.</param>
    /// <param name="end">Where its notes end; what follows is a rest.</param>
    public static string TokenOf(PlayedBar bar, Span end)
    {
        var text = new StringBuilder();
        text.Append(bar.Meter).Append(';').Append(bar.Ramp?.To).Append(';');
        foreach (var chord in bar.Chords)
        {
            text.Append(chord.Onset).Append(chord.Symbol.Text).Append(' ');
        }

        foreach (var line in bar.Lines)
        {
            text.Append('|');
            TokenOf(text, line, Span.Zero, end);
        }

        return text.ToString();
    }

    /// <summary>The same for a part of a line.</summary>
    public static void TokenOf(StringBuilder text, IReadOnlyList<Step> line, Span from, Span end)
    {
        var until = (Span?)null;
        foreach (var step in line)
        {
            if (step.Pitch is not { } pitch || step.Onset < from || step.Onset >= end)
            {
                continue;
            }

            if (until is null || !step.TiedFrom)
            {
                Close();
                text.Append(CultureInfo.InvariantCulture, $" {step.Onset - from}{(step.TiedFrom ? "<" : ":")}{pitch}");
                foreach (var grace in step.Graces)
                {
                    text.Append('(').Append(grace).Append(')');
                }
            }

            until = step.End - from;
            if (!step.TiedTo)
            {
                Close();
            }
        }

        if (until is not null)
        {
            Close();
            text.Append('>');
        }

        void Close()
        {
            if (until is not null)
            {
                text.Append(CultureInfo.InvariantCulture, $"-{until}");
                until = null;
            }
        }
    }

    /// <summary>The refusal of a score with too many sections.</summary>
    /// <param name="place">Where the first of them that is too many begins.</param>
    public static ChartProblemException TooMany(Origin? place) => new(
        $"the score falls into more than {MostBorders} sections, counting those that return; remove marks, changes of key or changes of tempo", place);

    /// <summary>The sections in playing order.</summary>
    /// <exception cref="ChartProblemException">There are too many.</exception>
    public IReadOnlyList<Segment> Cut()
    {
        foreach (var border in _score.Borders)
        {
            _borders[border.Bar] = border;
        }

        _borders.TryAdd(0, new Border(0, BorderKind.Strong));
        AddRests();
        if (_borders.Count > MostBorders)
        {
            throw TooMany(_score.Bars[_borders.Keys.ElementAt(MostBorders)].Origin);
        }

        DropShort();
        JoinLines();
        CutRepetitions();
        JoinTails();
        return Segments();
    }

    private static int[] Tokens(IReadOnlyList<PlayedBar> bars)
    {
        var numbers = new Dictionary<string, int>(StringComparer.Ordinal);
        return [.. bars.Select(bar =>
        {
            var text = TokenOf(bar, bar.Length);
            if (!numbers.TryGetValue(text, out var number))
            {
                numbers.Add(text, number = numbers.Count);
            }

            return number;
        })];
    }

    private bool CanCut(int bar) => !_isTied || bar >= _bars.Count || !_bars[bar].IsTiedInto || PickupInto(bar, null) > Span.Zero;

    // Bars of rest between others are an intro, an interlude or an ending.
    private void AddRests()
    {
        if (!_bars.Any(bar => bar.HasNotes))
        {
            return;
        }

        for (var from = 0; from < _bars.Count;)
        {
            var end = from;
            while (end < _bars.Count && !_bars[end].HasNotes)
            {
                end++;
            }

            if (end - from >= RestingBars)
            {
                _borders.TryAdd(from, new Border(from, BorderKind.Sign));
                if (end < _bars.Count)
                {
                    _borders.TryAdd(end, new Border(end, BorderKind.Sign));
                }
            }

            from = Math.Max(end, from + 1);
        }
    }

    // A double bar or a segno makes no section of a bar or two.
    private void DropShort()
    {
        var starts = _borders.Keys.ToList();
        for (var i = 1; i < starts.Count; i++)
        {
            var border = _borders[starts[i]];
            var before = starts[i] - starts.Take(i).Last(_borders.ContainsKey);
            var after = (i + 1 < starts.Count ? starts[i + 1] : _bars.Count) - starts[i];
            var rests = !_bars[starts[i]].HasNotes || !_bars[starts[i] - 1].HasNotes;
            if (border.Kind == BorderKind.Sign && !rests && border.Name is null && Math.Min(before, after) < Shortest)
            {
                _borders.Remove(starts[i]);
            }
        }
    }

    // Double bars after every four bars or fewer end the lines of a strophe, which are joined to sections of eight bars or more.
    private void JoinLines()
    {
        var starts = _borders.Keys.ToList();
        var lengths = starts.Skip(1).Append(_bars.Count).Zip(starts, (next, start) => next - start);
        if (starts.Count < FewestLines || lengths.Max() > Shortest || _borders.Values.Skip(1).Any(border => border.Kind != BorderKind.Sign || border.Name is not null))
        {
            return;
        }

        var begun = 0;
        foreach (var start in starts.Skip(1))
        {
            if (start - begun < UsualWhole || _bars.Count - start < Shortest)
            {
                _borders.Remove(start);
            }
            else
            {
                begun = start;
            }
        }
    }

    // One to three bars that repetition left over behind a section belong to it: as another ending, if it comes again.
    private void JoinTails()
    {
        var starts = _borders.Keys.ToList();
        for (var i = 1; i < starts.Count; i++)
        {
            var end = i + 1 < starts.Count ? starts[i + 1] : _bars.Count;
            var border = _borders[starts[i]];
            if (border.Kind == BorderKind.Repetition && border.Name is null && end - starts[i] < Shortest && _bars[starts[i]].HasNotes && _bars[starts[i] - 1].HasNotes)
            {
                _borders.Remove(starts[i]);
            }
        }
    }

    private void CutRepetitions()
    {
        for (var round = 0; round < MostRounds; round++)
        {
            var best = Candidates().MaxBy(candidate => candidate.Gain);
            if (best is null || best.Gain <= 0)
            {
                break;
            }

            foreach (var bar in best.Borders)
            {
                _borders.TryAdd(bar, new Border(bar, BorderKind.Repetition));
            }
        }

        CutByWords();
    }

    private sealed record Candidate(double Gain, IReadOnlyList<int> Borders);

    private sealed record Class(int Start, int End, List<int> Starts, bool IsOpen);

    // Equal stretches between borders are looked at once.
    private List<Class> Classes()
    {
        var starts = _borders.Keys.Append(_bars.Count).ToList();
        var classes = new Dictionary<string, Class>(StringComparer.Ordinal);
        var order = new List<Class>();
        for (var i = 0; i + 1 < starts.Count; i++)
        {
            var key = string.Join(',', _tokens[starts[i]..Math.Max(starts[i], starts[i + 1] - 1)]) + "/" + (starts[i + 1] - starts[i]).ToString(CultureInfo.InvariantCulture);
            if (classes.TryGetValue(key, out var known))
            {
                known.Starts.Add(starts[i]);
            }
            else
            {
                classes.Add(key, known = new Class(starts[i], starts[i + 1], [starts[i]], true));
                order.Add(known);
            }
        }

        // What is played again, or named, or short enough, is a section already.
        return [.. order.Select(one => one with
        {
            IsOpen = one.Starts.Count == 1 && (order.Count == 1 || (_borders[one.Start].Name is null
                && (one.End - one.Start > LongestWhole || IsRepetition(one.Start) || IsRepetition(one.End)))),
        })];
    }

    private bool IsRepetition(int bar) => _borders.TryGetValue(bar, out var border) && border.Kind == BorderKind.Repetition;

    private IEnumerable<Candidate> Candidates()
    {
        var classes = Classes();
        var classAt = new Class?[_bars.Count];
        var windows = new Dictionary<(int, int, int), List<int>>();
        foreach (var one in classes)
        {
            for (var i = one.Start; i < one.End; i++)
            {
                classAt[i] = one;
                if (i + Window <= one.End)
                {
                    var key = (_tokens[i], _tokens[i + 1], _tokens[i + 2]);
                    if (!windows.TryGetValue(key, out var places))
                    {
                        windows.Add(key, places = []);
                    }

                    if (places.Count < MostPlaces)
                    {
                        places.Add(i);
                    }
                }
            }
        }

        if (!classes.Exists(one => one.IsOpen))
        {
            yield break;
        }

        var seen = new HashSet<(int, int)>();
        foreach (var places in windows.Values.Where(places => places.Count > 1))
        {
            for (var a = 0; a < places.Count; a++)
            {
                for (var b = a + 1; b < places.Count; b++)
                {
                    var (i, j) = (places[a], places[b]);
                    var (first, second) = (classAt[i]!, classAt[j]!);
                    if (!first.IsOpen && !second.IsOpen)
                    {
                        continue;
                    }

                    if (i > first.Start && j > second.Start && _tokens[i - 1] == _tokens[j - 1])
                    {
                        continue;
                    }

                    var most = Math.Min(Math.Min(first.End - i, second.End - j), first == second ? j - i : int.MaxValue);
                    var length = 0;
                    while (length < most && _tokens[i + length] == _tokens[j + length])
                    {
                        length++;
                    }

                    foreach (var size in Sizes(i, j, length, most, first == second))
                    {
                        if (size >= Shortest && seen.Add((i, size)) && Make(places, classAt, i, size, length) is { } candidate)
                        {
                            yield return candidate;
                        }
                    }
                }
            }
        }
    }

    private IEnumerable<int> Sizes(int i, int j, int length, int most, bool together)
    {
        yield return length;
        if (length < most && SameUpToPickup(i + length, j + length))
        {
            yield return length + 1;
        }

        if (length % 4 != 0)
        {
            yield return length - (length % 4);
        }

        // Up to the next playing, with endings.
        var distance = j - i;
        if (together && length < distance && distance - length <= Math.Max(1, distance / 4) && distance <= most)
        {
            yield return distance;
        }

        var whole = length + 3 - ((length + 3) % 4);
        if (whole > length && whole <= most && whole - length <= Math.Max(1, whole / 4))
        {
            yield return whole;
        }
    }

    private Candidate? Make(List<int> places, Class?[] classAt, int first, int size, int common)
    {
        var borders = new List<int>();
        var count = 0;
        var equal = 0;
        var free = 0;
        var settled = new HashSet<Class>();
        foreach (var place in places)
        {
            var one = classAt[place]!;
            var same = 0;
            while (same < size && place + same < one.End && _tokens[place + same] == _tokens[first + same])
            {
                same++;
            }

            var enough = same >= size || (same >= Math.Min(common, size - 1) && place + size <= one.End && size - same <= Math.Max(1, size / 4));
            if (place < free || !enough || !CanCut(place) || !CanCut(place + size) || (!one.IsOpen && !settled.Add(one)))
            {
                continue;
            }

            (count, free) = (count + 1, place + size);
            equal += count == 1 ? 0 : same;
            foreach (var start in one.Starts)
            {
                borders.Add(start + place - one.Start);
                borders.Add(start + place - one.Start + size);
            }
        }

        borders = [.. borders.Where(bar => bar < _bars.Count && !_borders.ContainsKey(bar)).Distinct()];
        if (count < 2 || borders.Count == 0)
        {
            return null;
        }

        // Phrases of four and eight bars are usual.
        var usual = size % 8 == 0 ? 2 : size % 4 == 0 ? 1 : 0;
        return new Candidate(equal - SectionPrice - borders.Count + usual, borders);
    }

    // What is sung to other words and ends with the same words each time is verse and refrain.
    private void CutByWords()
    {
        foreach (var one in Classes().Where(one => one.Starts.Count > 1 && one.End - one.Start >= 2 * Shortest))
        {
            var bars = one.End - one.Start;
            var same = Enumerable.Range(0, bars).Select(bar => one.Starts.All(start => WordsAt(start + bar) == WordsAt(one.Start + bar))).ToArray();
            var sung = Enumerable.Range(0, bars).Select(bar => WordsAt(one.Start + bar).Length > 0).ToArray();
            var tail = 0;
            while (tail < bars && same[bars - 1 - tail])
            {
                tail++;
            }

            var cut = bars - tail;
            cut += cut % 4 == 0 || (cut + 3) / 4 * 4 > bars - Shortest ? 0 : 4 - (cut % 4);
            if (bars - cut >= Shortest && cut >= Shortest && sung.AsSpan(cut).Contains(true) && one.Starts.TrueForAll(start => CanCut(start + cut)))
            {
                foreach (var start in one.Starts)
                {
                    _borders.TryAdd(start + cut, new Border(start + cut, BorderKind.Repetition));
                }
            }
        }
    }

    private string WordsAt(int bar) => string.Join(' ', _bars[bar].Lines.FirstOrDefault()?
        .Where(step => step.Lyrics.Count > 0 && step.Lyrics[0] is { Parts.Count: > 0 }).Select(step => step.Lyrics[0]!.Text) ?? []);

    // Two bars that differ only in what comes after a rest or at their end.
    private bool SameUpToPickup(int a, int b)
    {
        var (one, other) = (_bars[a], _bars[b]);
        if (one.Meter != other.Meter || !one.Chords.Select(chord => (chord.Onset, chord.Symbol.Text)).SequenceEqual(other.Chords.Select(chord => (chord.Onset, chord.Symbol.Text))))
        {
            return false;
        }

        var cut = one.Length / 2;
        return one.Lines.Zip(other.Lines).All(pair =>
        {
            var (first, second) = (new StringBuilder(), new StringBuilder());
            TokenOf(first, pair.First, Span.Zero, cut);
            TokenOf(second, pair.Second, Span.Zero, cut);
            return first.ToString() == second.ToString() && first.Length > 0;
        });
    }

    private List<Segment> Segments()
    {
        var starts = _borders.Keys.Where(bar => bar == 0 || CanKeep(_borders[bar])).ToList();
        var pickups = starts.ToDictionary(bar => bar, bar => bar == 0 ? _score.LeadLength : PickupInto(bar, _borders[bar].Pickup));
        for (var changed = true; changed;)
        {
            changed = false;
            foreach (var group in Enumerable.Range(0, starts.Count).GroupBy(i => BodyOf(starts, i), StringComparer.Ordinal))
            {
                var members = group.Select(i => starts[i]).ToList();
                if (members.Select(bar => PickupText(bar, pickups[bar])).Distinct(StringComparer.Ordinal).Count() < 2)
                {
                    continue;
                }

                // Pickups that differ stay in the bars before them.
                foreach (var bar in members.Where(bar => bar > 0 && pickups[bar] > Span.Zero && _borders[bar].Pickup is null && !_bars[bar].IsTiedInto))
                {
                    pickups[bar] = Span.Zero;
                    changed = true;
                }
            }
        }

        return [.. starts.Select((bar, i) => new Segment(bar, i + 1 < starts.Count ? starts[i + 1] : _bars.Count, pickups[bar], _borders[bar].Name))];
    }

    private bool CanKeep(Border border) =>
        (border.Pickup is null || IsCuttable(_bars[border.Bar - 1], _bars[border.Bar - 1].Length - border.Pickup.Value)) && CanCut(border.Bar)
        && (!_bars[border.Bar].IsTiedInto || PickupInto(border.Bar, border.Pickup) > Span.Zero);

    private string BodyOf(List<int> starts, int index)
    {
        var (start, end) = (starts[index], index + 1 < starts.Count ? starts[index + 1] : _bars.Count);
        return string.Join(',', _tokens[start..Math.Max(start, end - 1)]) + "/" + (end - start).ToString(CultureInfo.InvariantCulture)
            + (end - start == 1 ? "/" + _tokens[start].ToString(CultureInfo.InvariantCulture) : string.Empty);
    }

    /// <summary>The notes of a pickup as a text.</summary>
    public string PickupText(int bar, Span length)
    {
        var text = new StringBuilder();
        foreach (var line in bar == 0 ? _score.Lead : _bars[bar - 1].Lines)
        {
            var from = bar == 0 ? Span.Zero : _bars[bar - 1].Length - length;
            text.Append('|');
            TokenOf(text, line, from, from + length);
        }

        return length == Span.Zero ? string.Empty : text.ToString();
    }

    // The pickup into a bar, which must be shorter than the bar: what a divided bar says; else as long as the piece's own, or what follows the last rest of the bar
    // before, or from where the words begin a line.
    private Span PickupInto(int bar, Span? given)
    {
        var found = PickupBefore(bar, given);
        return bar < _bars.Count && found >= _bars[Math.Max(0, bar)].Length ? Span.Zero : found;
    }

    private Span PickupBefore(int bar, Span? given)
    {
        if (bar <= 0 || bar >= _bars.Count || _bars[bar - 1].Lines.Length == 0)
        {
            return Span.Zero;
        }

        var before = _bars[bar - 1];
        var tune = before.Lines[0];
        if (given is { } length)
        {
            // Rests at its start are no part of it.
            var sounding = before.Lines.SelectMany(line => line).Where(step => step.Pitch is not null && step.Onset >= before.Length - length)
                .Select(step => step.Onset).DefaultIfEmpty(before.Length).Min();
            return before.Length - sounding;
        }

        var half = before.Length / 2;
        var rest = tune.FindLastIndex(step => step.Pitch is null);
        if (rest >= 0 && rest < tune.Count - 1 && tune[rest].End >= half && IsCuttable(before, tune[rest].End))
        {
            return before.Length - tune[rest].End;
        }

        var lead = before.Length - _score.LeadLength;
        var at = _score.LeadLength > Span.Zero && lead >= half ? tune.Find(step => step.Onset == lead && step.Pitch is not null) : null;
        var startsWord = at is not null && (at.Lyrics.All(lyric => lyric is null)
            || at.Lyrics.Any(lyric => lyric is { Parts: [{ Place: null or WordPlace.Single or WordPlace.Begin }, ..] }));
        return at is not null && rest < tune.Count - 1 && startsWord && IsCuttable(before, lead) ? _score.LeadLength
            : tune.Find(step => step.Onset >= half && BeginsSentence(bar - 1, step)) is { } first && rest < tune.IndexOf(first) && IsCuttable(before, first.Onset) ? before.Length - first.Onset
            : Span.Zero;
    }

    // Every verse begins a line of words at a note: a capital letter after a mark of punctuation.
    private bool BeginsSentence(int bar, Step step) => step.Lyrics.Any(lyric => lyric is not null)
        && Enumerable.Range(0, step.Lyrics.Count).All(verse => step.Lyrics[verse] is not { Parts: [{ } part, ..] }
            || (part is { Place: null or WordPlace.Single or WordPlace.Begin } && part.Text.FirstOrDefault(char.IsLetter) is var letter && char.IsUpper(letter)
                && BeforeIn(bar, step, verse) is { } last && last.TrimEnd('"', '\'', '’', '”', ')') is { Length: > 0 } bare && Ends.Contains(bare[^1], StringComparison.Ordinal)));

    // The text sung before a note in a verse; null for none in the four bars before.
    private string? BeforeIn(int bar, Step step, int verse)
    {
        for (var b = bar; b >= Math.Max(0, bar - 4); b--)
        {
            var sung = _bars[b].Lines[0].LastOrDefault(other => (b < bar || other.Onset < step.Onset) && verse < other.Lyrics.Count && other.Lyrics[verse] is { Parts.Count: > 0 });
            if (sung is not null)
            {
                return sung.Lyrics[verse]!.Parts[^1].Text;
            }
        }

        return null;
    }

    // No note, tie or tuplet leads over the place, in any line.
    private static bool IsCuttable(PlayedBar bar, Span at) => at >= bar.Length || bar.Lines.All(line =>
    {
        var next = line.FindIndex(step => step.End > at);
        return next < 0 || (line[next].Onset >= at || line[next].Pitch is null)
            && !line[next].TiedFrom
            && (line[next].Tuplets.Count == 0 || (line[next].Onset == at && (next == 0 || line[next - 1].Tuplets.Count == 0 || line[next - 1].Tuplets[0].Id != line[next].Tuplets[0].Id)));
    });
}
