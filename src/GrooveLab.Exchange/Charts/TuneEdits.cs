using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>
/// Changes a section's tune in its text: another pitch changes its letters only, other times change the notes of their bar, and what reads as
/// it should is left alone.
/// </summary>
/// <param name="editor">Takes the changes.</param>
/// <param name="table">The tune.</param>
/// <param name="usual">How bars are laid out where the tune does not say.</param>
/// <param name="section">The section's name.</param>
internal sealed class TuneEdits(TomlEditor editor, TomlTable table, BarLayout usual, string section)
{
    private WrittenTune _written = null!;
    private NoteWriter _writer = null!;

    /// <summary>Writes the tune.</summary>
    /// <param name="before">The tune as the text has it.</param>
    /// <param name="oldMeters">The meters of the section's bars as the text has them.</param>
    /// <param name="now">The tune as it is to be.</param>
    /// <param name="meters">The meters of the section's bars as they are to be.</param>
    /// <returns>True when the notes had to be laid out again.</returns>
    /// <exception cref="ChartProblemException">The tune goes on after its section.</exception>
    public bool Write(Tune before, IReadOnlyList<BarMeter> oldMeters, Tune now, IReadOnlyList<BarMeter> meters)
    {
        var pickup = table.Find("pickup")?.Value as TomlString;
        var notes = (TomlString)table.Find("notes")!.Value;
        var laidOut = false;
        var (newPickup, newNotes) = (pickup?.Value, notes.Value);
        if (!Reads(newPickup, newNotes, now, meters, out var read))
        {
            _written = new WrittenTune(pickup, notes, oldMeters);
            laidOut = !(meters.Count == oldMeters.Count && WriteInPlace(pickup, notes, now, meters, out newPickup, out newNotes));
            if (laidOut)
            {
                LayOut(pickup, before, oldMeters, now, meters, out newPickup, out newNotes);
            }

            _ = Reads(newPickup, newNotes, now, meters, out read);
        }

        new VerseEdits(editor, table).Write(now.Verses, read);
        return laidOut;
    }

    private static bool Reads(string? pickup, string notes, Tune now, IReadOnlyList<BarMeter> meters, out TuneNotes.Result read)
    {
        var problems = new Problems(new SourceText(string.Empty), string.Empty);
        read = TuneNotes.Read(pickup is null ? null : TomlString.Of(pickup), TomlString.Of(notes), meters, meters.Count, problems);
        return problems.Count == 0 && read.Notes is { } found && SameChart.Notes(now.Notes, found);
    }

    private bool WriteInPlace(TomlString? pickup, TomlString notes, Tune now, IReadOnlyList<BarMeter> meters, out string? newPickup, out string newNotes)
    {
        _writer = new NoteWriter(_written.Style);
        newPickup = WritePickup(pickup, now, meters[0], out var pickupPieces);
        var cut = TuneBars.Cut(now, now.PickupLength, meters, section);
        var pieces = new List<(int Start, int End, string With)>();
        for (var i = 0; i < meters.Count; i++)
        {
            pieces.AddRange(Fit(_written.Bars[i], cut.Bars[i], meters[i], i > 0 ? cut.Bars[i - 1] : null));
        }

        newNotes = ChordEdits.Replaced(notes.Value, pieces);
        if (!Reads(newPickup, newNotes, now, meters, out _))
        {
            return false;
        }

        SetPickup(pickup, newPickup, pickupPieces);
        var columns = new BarColumns(editor);
        columns.Add(notes, _written.BarLines);
        foreach (var (start, end, with) in pieces)
        {
            columns.Replace(notes, start, end, with);
        }

        columns.Write();
        return true;
    }

    // The pickup's text; its pieces where it is changed in place.
    private string? WritePickup(TomlString? pickup, Tune now, BarMeter meter, out List<(int Start, int End, string With)>? pieces)
    {
        pieces = null;
        var length = now.PickupLength;
        if (_written.Pickup is { } lead && length > Span.Zero)
        {
            // It may begin with a rest.
            var (written, _) = WrittenTune.Lengths(lead, meter, null);
            var stands = WrittenTune.Stretches(lead, written)[^1].Stretch.End;
            var window = stands > length && stands < meter.Length ? stands : length;
            pieces = Fit(lead, TuneBars.Lead(now, window), meter, null);
            return ChordEdits.Replaced(pickup!.Value, pieces);
        }

        if (length == Span.Zero)
        {
            // A pickup of rests alone.
            if (_written.Pickup is { } rests && rests.Elements.TrueForAll(element => element.Pitch is null))
            {
                pieces = [];
                _writer.Carried = WrittenTune.Lengths(rests, meter, null).Carried;
                return pickup!.Value;
            }

            return null;
        }

        return _writer.Write(TuneBars.Lead(now, length), meter, wholeBar: false);
    }

    private void SetPickup(TomlString? pickup, string? now, List<(int Start, int End, string With)>? pieces)
    {
        if (now is null)
        {
            editor.Remove(table, "pickup");
        }
        else if (pickup is null || pieces is null)
        {
            editor.SetText(table, "pickup", now, ChartKeys.Tune);
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
        TomlString? pickup, Tune before, IReadOnlyList<BarMeter> oldMeters, Tune now, IReadOnlyList<BarMeter> meters, out string? newPickup, out string newNotes)
    {
        _writer = new NoteWriter(_written.Style);
        newPickup = WritePickup(pickup, now, meters[0], out var pieces);
        var (old, cut) = (TuneBars.Cut(before, before.PickupLength, oldMeters, section).Bars, TuneBars.Cut(now, now.PickupLength, meters, section).Bars);
        bool IsAsBefore(int was, int at) => oldMeters[was] == meters[at] && TuneStretch.SayTheSame(old[was], cut[at]);
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
            bars.Add(was < 0 ? _writer.Write(cut[i], meters[i], wholeBar: true) : AsWritten(_written.Bars[was], cut[i], meters[i], i > 0 ? cut[i - 1] : null));
        }

        newNotes = string.Join(" | ", bars);
        if (!Reads(newPickup, newNotes, now, meters, out _))
        {
            // As it would be written without a text.
            var (plainPickup, plainBars) = new TuneText(now, meters, section).Write();
            (newPickup, bars) = (plainPickup.Length > 0 ? plainPickup : null, [.. plainBars]);
            newNotes = string.Join(" | ", bars);
            pieces = null;
        }

        SetPickup(pickup, newPickup, pieces);
        usual.Write(editor, table, "notes", bars, ChartKeys.Tune);
    }

    private string AsWritten(WrittenTune.Bar bar, IReadOnlyList<TuneStretch> now, BarMeter meter, IReadOnlyList<TuneStretch>? before)
    {
        var pieces = Fit(bar, now, meter, before).Select(piece => (piece.Start - bar.Start, piece.End - bar.Start, piece.With));
        var text = ChordEdits.Replaced(bar.Text.Value[bar.Start..bar.End], pieces);
        return string.Join(' ', text.Split('\n', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries));
    }

    // What has to be replaced in a bar's text so that it says what it should; in order.
    private List<(int Start, int End, string With)> Fit(
        WrittenTune.Bar bar, IReadOnlyList<TuneStretch> now, BarMeter meter, IReadOnlyList<TuneStretch>? before)
    {
        if (bar.Repeat is { } sign)
        {
            return before is not null && TuneStretch.SayTheSame(before, now)
                ? []
                : [(sign.Start, sign.End, _writer.Write(now, meter, wholeBar: true))];
        }

        // Read with the length that is carried on now, or with the one that was, which then has to be written.
        var (lengths, _) = WrittenTune.Lengths(bar, meter, _writer.Carried);
        var stretches = WrittenTune.Stretches(bar, lengths);
        if (!HaveTheSameTimes(stretches, now) && bar.CarriedBefore != _writer.Carried)
        {
            lengths = WrittenTune.Lengths(bar, meter, bar.CarriedBefore).Written;
            stretches = WrittenTune.Stretches(bar, lengths);
        }

        var (head, tail) = SameEnds(bar, stretches, now);
        var pieces = new List<(int Start, int End, string With)>();
        Keep(pieces, bar, lengths, meter, stretches.Take(head), now.Take(head));
        var (from, to) = (head, stretches.Count - tail);
        var middle = now.Skip(head).Take(now.Count - head - tail).ToList();
        if (from < to || middle.Count > 0)
        {
            var start = from < to ? bar.Chunks[bar.Elements[stretches[from].First].Chunk].Start
                : from < stretches.Count ? bar.Chunks[bar.Elements[stretches[from].First].Chunk].Start
                : bar.End;
            var end = from < to ? bar.Chunks[bar.Elements[stretches[to - 1].Last].Chunk].End : start;
            _writer.SaysNext = head > 0 && bar.Elements[stretches[head - 1].Last].Factor != Rational.One;
            var text = _writer.Write(middle, meter, wholeBar: head + tail == 0);
            if (from == to)
            {
                text = from < stretches.Count ? text + " " : " " + text;
            }
            else if (middle.Count == 0)
            {
                // The blanks on one side go too.
                if (tail > 0)
                {
                    end = bar.Chunks[bar.Elements[stretches[to].First].Chunk].Start;
                }
                else
                {
                    start = bar.Chunks[bar.Elements[stretches[from - 1].Last].Chunk].End;
                }
            }

            pieces.Add((start, end, text));
        }

        Keep(pieces, bar, lengths, meter, stretches.Skip(stretches.Count - tail), now.Skip(now.Count - tail));
        return pieces;
    }

    private static bool HaveTheSameTimes(IReadOnlyList<(TuneStretch Stretch, int First, int Last)> written, IReadOnlyList<TuneStretch> now) =>
        TuneStretch.HaveTheSameTimes([.. written.Select(stretch => stretch.Stretch)], now);

    // How many stretches at the beginning and at the end stand at the times where they should; tuplets whole or not at all.
    private static (int Head, int Tail) SameEnds(
        WrittenTune.Bar bar, IReadOnlyList<(TuneStretch Stretch, int First, int Last)> written, IReadOnlyList<TuneStretch> now)
    {
        if (HaveTheSameTimes(written, now))
        {
            return (written.Count, 0);
        }

        var least = Math.Min(written.Count, now.Count);
        var head = 0;
        while (head < least && written[head].Stretch.IsAtTimeOf(now[head]))
        {
            head++;
        }

        while (head > 0 && head < written.Count && bar.Elements[written[head].First].Chunk == bar.Elements[written[head - 1].Last].Chunk)
        {
            head--;
        }

        var tail = 0;
        while (tail < least - head && written[^(tail + 1)].Stretch.IsAtTimeOf(now[^(tail + 1)]))
        {
            tail++;
        }

        while (tail > 0 && tail < written.Count && bar.Elements[written[^tail].First].Chunk == bar.Elements[written[^(tail + 1)].Last].Chunk)
        {
            tail--;
        }

        return (head, tail);
    }

    // Notes that stay where they are: other pitches, grace notes and ties, and a length where another one would be carried on.
    private void Keep(
        List<(int Start, int End, string With)> pieces,
        WrittenTune.Bar bar,
        IReadOnlyList<Span> lengths,
        BarMeter meter,
        IEnumerable<(TuneStretch Stretch, int First, int Last)> stretches,
        IEnumerable<TuneStretch> now)
    {
        foreach (var ((was, first, last), stretch) in stretches.Zip(now))
        {
            for (var i = first; i <= last; i++)
            {
                var element = bar.Elements[i];
                if (i == first && !was.Graces.SequenceEqual(stretch.Graces))
                {
                    pieces.Add(OtherGraces(bar, element, stretch.Graces));
                }

                if (stretch.Pitch is { } pitch && pitch != element.Pitch)
                {
                    pieces.Add((element.Start, element.NameEnd, InManner(bar.Text.Value[element.Start..element.NameEnd], pitch)));
                }

                if (element.LengthText is not null)
                {
                    _writer.Carried = lengths[i];
                }
                else if (bar.IsLoneRest)
                {
                    _writer.CarriedIn(meter);
                }
                else if (_writer.CarriedIn(meter) != lengths[i])
                {
                    pieces.Add((element.NameEnd, element.NameEnd, ":" + _writer.Style.Length(lengths[i], meter.Unit, element.Factor != Rational.One)));
                    _writer.Carried = lengths[i];
                }

                if (i == last && stretch.Pitch is not null && stretch.Tied != element.Tied)
                {
                    pieces.Add(stretch.Tied ? (element.End, element.End, "~") : (element.End - 1, element.End, string.Empty));
                }
            }
        }
    }

    private static (int Start, int End, string With) OtherGraces(WrittenTune.Bar bar, WrittenTune.Element element, IReadOnlyList<Pitch> graces)
    {
        var (start, end) = element.Graces ?? (element.Start, element.Start);
        return (start, end, graces.Count == 0 ? string.Empty : $"({string.Join(' ', graces)})");
    }

    // As the old name has it: small letters, signs for sharps and flats.
    private static string InManner(string was, Pitch pitch)
    {
        var name = was.AsSpan().IndexOfAny('♯', '♭') >= 0
            ? pitch.Name.ToSigns() + pitch.ToString()[pitch.Name.ToString().Length..]
            : pitch.ToString();
        return char.IsAsciiLetterLower(was[0]) ? char.ToLowerInvariant(name[0]) + name[1..] : name;
    }
}
