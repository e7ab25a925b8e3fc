using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>Edits a line of a section's tune in its text: a new pitch changes only its letters, new times change the notes of their bar,
/// and text that is already right is left alone.</summary>
/// <param name="editor">Receives the changes.</param>
/// <param name="table">The line.</param>
/// <param name="usual">The default layout of bars.</param>
/// <param name="section">The section's name.</param>
/// <param name="format">The format of the chart.</param>
/// <param name="columns">The bar lines of the section; receives the changes inside bars.</param>
internal sealed class TuneEdits(TomlEditor editor, TomlTable table, BarLayout usual, string section, int format, BarColumns columns)
{
    private TuneSpans _written = null!;
    private NoteWriter _writer = null!;

    /// <summary>Writes the line.</summary>
    /// <param name="before">The line in the text.</param>
    /// <param name="oldMeters">The meters of the section's bars in the text.</param>
    /// <param name="now">The new line.</param>
    /// <param name="meters">The new meters of the section's bars.</param>
    /// <param name="verses">Its new verses.</param>
    /// <returns>True when the notes were laid out again.</returns>
    /// <exception cref="ChartProblemException">A mark has no name in a chart.</exception>
    public bool Write(
        TuneBars before, IReadOnlyList<BarMeter> oldMeters, TuneBars now, IReadOnlyList<BarMeter> meters, IReadOnlyList<IReadOnlyList<Syllable?>> verses)
    {
        var pickup = table.Find("pickup")?.Value as TomlString;
        var notes = (TomlString)table.Find("notes")!.Value;
        var laidOut = false;
        var (newPickup, newNotes) = (pickup?.Value, notes.Value);
        if (!Reads(newPickup, newNotes, now, meters, out var read))
        {
            _written = new TuneSpans(pickup, notes, oldMeters, format);
            laidOut = !(meters.Count == oldMeters.Count && WriteInPlace(pickup, notes, before, now, meters, out newPickup, out newNotes));
            if (laidOut)
            {
                LayOut(pickup, before, oldMeters, now, meters, out newPickup, out newNotes);
            }

            _ = Reads(newPickup, newNotes, now, meters, out read);
        }
        else
        {
            columns.Add(notes, () => new TuneSpans(pickup, notes, oldMeters, format).BarLines);
        }

        new VerseEdits(editor, table, format, columns).Write(verses, read);
        return laidOut;
    }

    private bool Reads(string? pickup, string notes, TuneBars now, IReadOnlyList<BarMeter> meters, out TuneNotes.Result read)
    {
        var problems = Problems.Unread();
        read = TuneNotes.Read(pickup is null ? null : TomlString.Of(pickup), TomlString.Of(notes), meters, meters.Count, format, problems, leadsOn: true);
        return problems.Count == 0 && read.Notes is { } found && TuneBars.Of(found, meters).SaysThe(now);
    }

    private bool WriteInPlace(
        TomlString? pickup, TomlString notes, TuneBars before, TuneBars now, IReadOnlyList<BarMeter> meters, out string? newPickup, out string newNotes)
    {
        _writer = new NoteWriter(_written.Style, section);
        newPickup = WritePickup(pickup, before, now, meters[0], out var pickupPieces);
        var pieces = new List<(int Start, int End, string With)>();
        for (var i = 0; i < meters.Count; i++)
        {
            pieces.AddRange(Fit(_written.Bars[i], before.Bars[i], now.Bars[i], meters[i], i > 0 ? now.Bars[i - 1] : null));
        }

        newNotes = ChordEdits.Replaced(notes.Value, pieces);
        if (!Reads(newPickup, newNotes, now, meters, out _))
        {
            return false;
        }

        SetPickup(pickup, newPickup, pickupPieces);
        columns.Add(notes, () => _written.BarLines);
        foreach (var (start, end, with) in pieces)
        {
            columns.Replace(notes, start, end, with);
        }

        return true;
    }

    // The pickup's text; in pieces if it is changed in place.
    private string? WritePickup(TomlString? pickup, TuneBars before, TuneBars now, BarMeter meter, out List<(int Start, int End, string With)>? pieces)
    {
        pieces = null;
        if (_written.Pickup is not { } lead || now.Pickup.Count == 0)
        {
            return now.Pickup.Count == 0 ? null : _writer.Write(now.Pickup, meter);
        }

        pieces = Fit(lead, before.Pickup, now.Pickup, meter, null);
        return ChordEdits.Replaced(pickup!.Value, pieces);
    }

    private void SetPickup(TomlString? pickup, string? now, List<(int Start, int End, string With)>? pieces)
    {
        if (now is null)
        {
            editor.Remove(table, "pickup");
        }
        else if (pickup is null || pieces is null)
        {
            editor.SetText(table, "pickup", now, ChartKeys.Line);
        }
        else
        {
            foreach (var (start, end, with) in pieces)
            {
                editor.ReplaceIn(pickup, start, end, with);
            }
        }
    }

    private void LayOut(
        TomlString? pickup,
        TuneBars before,
        IReadOnlyList<BarMeter> oldMeters,
        TuneBars now,
        IReadOnlyList<BarMeter> meters,
        out string? newPickup,
        out string newNotes)
    {
        _writer = new NoteWriter(_written.Style, section);
        newPickup = WritePickup(pickup, before, now, meters[0], out var pieces);
        var (old, cut) = (before.Bars, now.Bars);
        bool IsAsBefore(int was, int at) => oldMeters[was] == meters[at] && TuneElement.SayTheSame(old[was], cut[at]);
        var head = 0;
        while (head < old.Count && head < cut.Count && IsAsBefore(head, head))
        {
            head++;
        }

        var tail = 0;
        while (tail < old.Count - head && tail < cut.Count - head && IsAsBefore(old.Count - 1 - tail, cut.Count - 1 - tail))
        {
            tail++;
        }

        var bars = new List<string>();
        for (var i = 0; i < cut.Count; i++)
        {
            var was = i < head ? i : i >= cut.Count - tail ? old.Count - (cut.Count - i) : -1;
            bars.Add(was < 0 ? _writer.Write(cut[i], meters[i]) : AsWritten(_written.Bars[was], old[was], cut[i], meters[i], i > 0 ? cut[i - 1] : null));
        }

        newNotes = string.Join(" | ", bars);
        if (!Reads(newPickup, newNotes, now, meters, out _))
        {
            // The default text.
            _writer = new NoteWriter(NoteStyle.Of(format) with { Rest = _written.Style.Rest, Tie = _written.Style.Tie }, section);
            (newPickup, pieces) = (now.Pickup.Count == 0 ? null : _writer.Write(now.Pickup, meters[0]), null);
            bars = [.. cut.Zip(meters, (bar, meter) => _writer.Write(bar, meter))];
            newNotes = string.Join(" | ", bars);
        }

        SetPickup(pickup, newPickup, pieces);
        usual.Write(editor, table, "notes", bars, ChartKeys.Line);
    }

    private string AsWritten(
        TuneSpans.Bar bar, IReadOnlyList<TuneElement> was, IReadOnlyList<TuneElement> now, BarMeter meter, IReadOnlyList<TuneElement>? before)
    {
        var pieces = Fit(bar, was, now, meter, before).Select(piece => (piece.Start - bar.Start, piece.End - bar.Start, piece.With));
        var text = ChordEdits.Replaced(bar.Text.Value[bar.Start..bar.End], pieces);
        return string.Join(' ', text.Split('\n', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries));
    }

    // The replacements in a bar's text, in order.
    private List<(int Start, int End, string With)> Fit(
        TuneSpans.Bar bar, IReadOnlyList<TuneElement> was, IReadOnlyList<TuneElement> now, BarMeter meter, IReadOnlyList<TuneElement>? before)
    {
        if (bar.Repeat is { } sign)
        {
            return before is not null && TuneElement.SayTheSame(before, now) ? [] : [(sign.Start, sign.End, _writer.Write(now, meter))];
        }

        // Read with the length carried on now, or with the old one, which then must be written.
        var stands = Standing(bar, was, meter, _writer.Carried);
        if (!LastAs(stands, now) && bar.CarriedBefore != _writer.Carried)
        {
            stands = Standing(bar, was, meter, bar.CarriedBefore);
        }

        var (head, tail) = SameEnds(bar, stands, now);
        var pieces = new List<(int Start, int End, string With)>();
        for (var i = 0; i < head; i++)
        {
            Keep(pieces, bar, bar.Words[i], stands[i], now[i], meter);
        }

        var (from, to) = (head, stands.Count - tail);
        var middle = now.Skip(head).Take(now.Count - head - tail).ToList();
        if (from < to || middle.Count > 0)
        {
            pieces.Add(Other(bar, from, to, middle, meter, Olds(bar.Words[from..to], was.Skip(from), middle)));
        }

        for (var i = 0; i < tail; i++)
        {
            Keep(pieces, bar, bar.Words[to + i], stands[to + i], now[now.Count - tail + i], meter);
        }

        return pieces;
    }

    // The old word of each new note: one to one, or in order those of the same pitch.
    private static List<TuneSpans.Word?> Olds(List<TuneSpans.Word> words, IEnumerable<TuneElement> was, List<TuneElement> now)
    {
        if (words.Count == now.Count)
        {
            return [.. words];
        }

        var old = words.Zip(was).ToList();
        var next = 0;
        return now.ConvertAll(element =>
        {
            var found = old.FindIndex(next, pair => pair.Second.Pitch == element.Pitch);
            next = found < 0 ? next : found + 1;
            return found < 0 ? null : old[found].First;
        });
    }

    // The words from one up to another, replaced by others.
    private (int Start, int End, string With) Other(
        TuneSpans.Bar bar, int from, int to, IReadOnlyList<TuneElement> elements, BarMeter meter, IReadOnlyList<TuneSpans.Word?> olds)
    {
        int StartOf(int word) => bar.Chunks[bar.Words[word].Chunk].Start;
        int EndOf(int word) => bar.Chunks[bar.Words[word].Chunk].End;
        var text = _writer.Write(elements, meter, olds);
        return from == to && from < bar.Words.Count ? (StartOf(from), StartOf(from), text + " ")
            : from == to ? (bar.End, bar.End, " " + text)
            : elements.Count > 0 ? (StartOf(from), EndOf(to - 1), text)

            // The spaces on one side are removed too.
            : to < bar.Words.Count ? (StartOf(from), StartOf(to), string.Empty)
            : (EndOf(from - 1), EndOf(to - 1), string.Empty);
    }

    // The meaning of the words of a bar in a meter, with that length carried into it.
    private static List<TuneElement> Standing(TuneSpans.Bar bar, IReadOnlyList<TuneElement> was, BarMeter meter, Span? carried)
    {
        var (lengths, _) = TuneSpans.Lengths(bar, meter, carried);
        var stands = new List<TuneElement>();
        for (var i = 0; i < bar.Words.Count; i++)
        {
            var late = Span.Zero;
            if (bar.Words[i].LateText is { } text && NoteLength.TryRead(text, meter.Unit, out var read))
            {
                late = read!.Value;
            }

            stands.Add(was[i] with { Length = lengths[i] * bar.Words[i].Factor, Late = late, IsWholeBar = bar.IsLoneRest });
        }

        return stands;
    }

    private static bool LastAs(IReadOnlyList<TuneElement> a, IReadOnlyList<TuneElement> b) =>
        a.Count == b.Count && a.Zip(b).All(pair => pair.First.LastsAs(pair.Second));

    // The number of words at the start and at the end with the right lengths; whole tuplets only.
    private static (int Head, int Tail) SameEnds(TuneSpans.Bar bar, IReadOnlyList<TuneElement> stands, IReadOnlyList<TuneElement> now)
    {
        if (LastAs(stands, now))
        {
            return (stands.Count, 0);
        }

        bool IsParting(int word) => word <= 0 || word >= bar.Words.Count || bar.Words[word].Chunk != bar.Words[word - 1].Chunk;
        var least = Math.Min(stands.Count, now.Count);
        var head = 0;
        while (head < least && stands[head].LastsAs(now[head]))
        {
            head++;
        }

        while (!IsParting(head) || (head < now.Count && now[head].Tuplets.Any(tuplet => !tuplet.Begins)))
        {
            head--;
        }

        var tail = 0;
        while (tail < least - head && stands[^(tail + 1)].LastsAs(now[^(tail + 1)]))
        {
            tail++;
        }

        while (tail > 0 && (!IsParting(stands.Count - tail) || now[^tail].Tuplets.Any(tuplet => !tuplet.Begins)))
        {
            tail--;
        }

        return (head, tail);
    }

    // A word that stays in place: new pitch, marks, grace notes or tie, and a length if another would be carried on.
    private void Keep(
        List<(int Start, int End, string With)> pieces, TuneSpans.Bar bar, TuneSpans.Word word, TuneElement was, TuneElement now, BarMeter meter)
    {
        if (!was.Marks.Equals(now.Marks) || was.Late != now.Late)
        {
            pieces.Add((word.Start, word.NameStart, _writer.Prefix(now, meter, word)));
        }
        else if (!was.Graces.Equals(now.Graces))
        {
            var (start, end) = word.Graces ?? (word.NameStart, word.NameStart);
            pieces.Add((start, end, now.Graces.Count == 0 ? string.Empty : $"({string.Join(' ', now.Graces)})"));
        }

        if (now.Pitch is { } pitch && pitch != was.Pitch)
        {
            pieces.Add((word.NameStart, word.NameEnd, NoteWriter.InManner(word.Name, pitch)));
        }

        var written = was.Written;
        if (word.LengthText is not null)
        {
            _writer.Say(written);
        }
        else if (bar.IsLoneRest)
        {
            _writer.CarriedIn(meter);
        }
        else if (_writer.CarriedIn(meter) != written)
        {
            pieces.Add((word.NameEnd, word.NameEnd, ":" + _writer.Style.Length(written, meter.Unit, word.Tuplets.Count > 0)));
            _writer.Say(written);
        }

        _writer.IsAtTuplet = word.Tuplets.Count > 0;
        if (now.Tied != word.Tie is not null)
        {
            pieces.Add(now.Tied ? (word.End, word.End, _writer.Style.Tie.ToString()) : (word.End - 1, word.End, string.Empty));
        }
    }
}
