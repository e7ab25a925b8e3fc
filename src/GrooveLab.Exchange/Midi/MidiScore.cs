using System.Globalization;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Midi;

/// <summary>A MIDI file as written music.</summary>
internal sealed class MidiScore(MidiFile file, ScoreOptions options)
{
    private readonly List<ScoreRemark> _warnings = [];
    private readonly List<ScoreRemark> _notCarried = [];
    private readonly MidiScoreParts _found = new(file);
    private readonly List<MidiEvent> _signs = [.. file.Tracks.SelectMany(track => track.Events.Where(item => item.IsMeta)).OrderBy(item => item.Tick)];
    private readonly List<(Span Start, Span Length, WrittenMeter? Change, long Tick)> _bars = [];

    private bool _isPickup;

    private int TicksPerQuarter => file.Division.Ticks;

    /// <summary>Reads it.</summary>
    public ScoreReading Read()
    {
        if (_found.Parts.Count == 0)
        {
            return Refused("byte 14", "the file has no notes", "export it again from the program that made it");
        }

        if (TooMuch() is { } most)
        {
            return Refused(most.Place, most.What, "divide the file");
        }

        if (file.Division.IsSmpte)
        {
            return Refused("byte 12", "the ticks of this file divide seconds and not beats, so it has no bar lines", "export it with ticks per quarter note");
        }

        if (_found.Unended > 0)
        {
            Warn(null, string.Create(CultureInfo.InvariantCulture, $"{_found.Unended} notes have no end"), "they end with their tracks");
        }

        var onsets = _found.Parts.SelectMany(part => part.Notes).Select(note => note.On).Distinct().Order().ToList();
        var grid = new MidiQuantizer(TicksPerQuarter, onsets);
        if (grid.LargestError > Math.Max(3, TicksPerQuarter / 480.0))
        {
            Warn(null, string.Create(CultureInfo.InvariantCulture, $"the notes are played freely: up to {grid.LargestError:0} ticks from their places, {grid.MeanError:0.0} on average ({TicksPerQuarter} ticks are a quarter)"),
                "each note is moved to the nearest plain place");
        }

        if (Bars(_found.Parts.SelectMany(part => part.Notes).Max(note => note.Off)) is { } refusal)
        {
            return refusal;
        }

        // A first bar of at most half its successor, under a meter that does not come again, is a pickup into that meter.
        _isPickup = _bars.Count > 1 && _bars[1].Change is not null && _bars[0].Length + _bars[0].Length <= _bars[1].Length
            && !_bars.Skip(1).Any(bar => Equals(bar.Change, _bars[0].Change));
        if (_isPickup)
        {
            _bars[0] = _bars[0] with { Change = _bars[1].Change };
            _bars[1] = _bars[1] with { Change = null };
        }

        if ((long)_bars.Count * _found.Parts.Count > MidiScoreReader.MostPartMeasures)
        {
            return Refused(InMeasure((MidiScoreReader.MostPartMeasures / _found.Parts.Count) + 1), string.Create(CultureInfo.InvariantCulture, $"the parts have more than {MidiScoreReader.MostPartMeasures} measures together"), "divide the file");
        }

        List<MeasureMark>[] marks = [.. _bars.Select(_ => new List<MeasureMark>())];
        Marks(marks);
        var keys = Keys(marks);
        var lyrics = new MidiScoreLyrics(file, _found.Parts, TicksPerQuarter);
        if (lyrics.Lost > 0)
        {
            _notCarried.Add(new ScoreRemark(Here(null), string.Create(CultureInfo.InvariantCulture, $"{lyrics.Lost} syllables have no note"), string.Empty));
        }

        var starts = _bars.ConvertAll(bar => bar.Start);
        var pieces = 0L;
        var parts = new List<WrittenPart>();
        for (var p = 0; p < _found.Parts.Count; p++)
        {
            var voices = new MidiScoreVoices(_found.Parts[p], grid, lyrics.Of(p), keys, starts, _bars.ConvertAll(bar => bar.Length), options.Name, file.Graces);
            pieces += voices.Pieces;
            if (pieces > MidiScoreReader.MostPieces)
            {
                return Refused(_found.Parts[p].Place, string.Create(CultureInfo.InvariantCulture, $"the notes are longer than {MidiScoreReader.MostPieces} pieces between bar lines, the maximum"), "shorten the held notes");
            }

            if (voices.Shortened > 0)
            {
                Warn(_found.Parts[p].Place, string.Create(CultureInfo.InvariantCulture, $"more than {MidiScoreVoices.MostVoices} notes of different lengths sound together"),
                    string.Create(CultureInfo.InvariantCulture, $"{voices.Shortened} notes end where the next one starts"));
            }

            parts.Add(voices.Write(string.Create(CultureInfo.InvariantCulture, $"P{p + 1}")));
        }

        var music = new WrittenMusic([.. Measures(marks)], [.. parts])
        {
            Headings = file.Tracks[0].Name is { Length: > 0 } title && (file.Tracks.Count == 1 || file.Tracks[0].Events.All(item => !item.IsNoteOn))
                ? [new Heading("work-title", null, title.Trim())] : [],
            Origin = Here(null),
        };
        return new ScoreReading(music, _warnings, _notCarried);
    }

    // What is beyond a limit, with the place of the first that is; null if nothing is.
    private (string Place, string What)? TooMuch()
    {
        var notes = _found.Parts.Sum(part => (long)part.Notes.Count);
        return notes > MidiScoreReader.MostNotes
            ? (Tick(_found.Parts.SelectMany(part => part.Notes).Select(note => note.On).Order().ElementAt(MidiScoreReader.MostNotes)), Most(MidiScoreReader.MostNotes, "notes"))
            : _found.Parts.Count > MidiScoreReader.MostParts ? (_found.Parts[MidiScoreReader.MostParts].Place, Most(MidiScoreReader.MostParts, "parts"))
            : _signs.Count > MidiScoreReader.MostSigns ? (Tick(_signs[MidiScoreReader.MostSigns].Tick), Most(MidiScoreReader.MostSigns, "tempi, meters, keys, markers and syllables"))
            : null;
        static string Most(int count, string name) => string.Create(CultureInfo.InvariantCulture, $"the file has more than {count} {name}");
    }

    private static string Tick(long tick) => string.Create(CultureInfo.InvariantCulture, $"tick {tick}");

    private static string InMeasure(int number) => string.Create(CultureInfo.InvariantCulture, $"measure {number}");

    private ScoreReading Refused(string? place, string what, string remedy) => new([new ScoreRemark(Here(place), what, remedy)], _warnings);

    private void Warn(string? place, string what, string remedy) => _warnings.Add(new ScoreRemark(Here(place), what, remedy));

    private Origin Here(string? place) => new(options.Name, null, place);

    private Span Exact(long tick) => new(new Rational(tick, 4L * TicksPerQuarter));

    // The bar lines from the time signatures; a change inside a bar ends it.
    private ScoreReading? Bars(long end)
    {
        var changes = Meters().Where((change, i) => i == 0 || change.Tick < end).ToList();
        var at = Span.Zero;
        var last = Exact(end);
        for (var i = 0; i < changes.Count; i++)
        {
            var stop = i + 1 < changes.Count ? Exact(changes[i + 1].Tick) : last;
            var length = changes[i].Meter.Length!.Value;
            if ((stop - at) / length > MidiScoreReader.MostMeasures - _bars.Count)
            {
                return Refused($"tick {changes[i].Tick}", string.Create(CultureInfo.InvariantCulture, $"the piece is longer than {MidiScoreReader.MostMeasures} measures, the maximum"), "remove the notes that are far behind the others");
            }

            var isFirst = true;
            while (at < stop)
            {
                var next = i + 1 < changes.Count ? Span.Min(at + length, stop) : at + length;
                _bars.Add((at, next - at, isFirst ? changes[i].Meter : null, changes[i].Tick));
                (at, isFirst) = (next, false);
            }
        }

        return null;
    }

    private List<(long Tick, WrittenMeter Meter)> Meters()
    {
        var changes = new List<(long Tick, WrittenMeter Meter)>();
        var texts = _signs.Where(item => item.Data1 == MetaType.Text).Select(item => (item.Tick, item.Text))
            .Where(item => item.Text.StartsWith("meter ", StringComparison.Ordinal)).GroupBy(item => item.Tick).ToDictionary(group => group.Key, group => group.Last().Text);
        foreach (var item in _signs.Where(item => item.Data1 == MetaType.TimeSignature))
        {
            var content = item.Content.Span;
            if (content[0] is 0 or > 64 || content[1] > 6)
            {
                Warn($"tick {item.Tick}", string.Create(CultureInfo.InvariantCulture, $"a time signature of {content[0]} units over two to the power of {content[1]}"), "it is not read; 1 to 64 units of a whole to a 64th note are accepted");
                continue;
            }

            var signature = new TimeSignature(content[0], 1 << content[1]);
            var meter = texts.TryGetValue(item.Tick, out var text) && Grouped(text, signature) is { } grouped
                ? WrittenMeter.Of(grouped)
                : new WrittenMeter(new MeterPair([signature.Numerator], signature.Denominator));
            if (changes.Count > 0 && changes[^1].Tick == item.Tick)
            {
                changes.RemoveAt(changes.Count - 1);
            }

            if (changes.Count == 0 || !changes[^1].Meter.Equals(meter))
            {
                changes.Add((item.Tick, meter));
            }
        }

        if (changes.Count == 0 && options.Meter is { } given)
        {
            if (Music.Charts.MeterMark.Read(given, null, "write a meter such as 5/8 3+2", out var problem) is { } own)
            {
                return [(0, WrittenMeter.Of(own))];
            }

            Warn(null, $"the meter \"{given}\" cannot be read: {problem?.What}", "4/4 is assumed");
        }

        if (changes.Count == 0 || changes[0].Tick > 0)
        {
            if (changes.Count == 0)
            {
                Warn(null, "the file names no meter; 4/4 is assumed, as the MIDI standard says", "give --meter \"5/8 3+2\"");
            }

            changes.Insert(0, (0, new WrittenMeter(new MeterPair([4], 4))));
        }

        return changes;
    }

    // The grouping that this program's own export writes beside its time signatures: "meter 5/8 3+2", also with "written as 5/8".
    private static BarMeter? Grouped(string text, TimeSignature signature)
    {
        var words = text.Split(' ');
        return words.Length >= 3 && BarMeter.TryParse($"{signature} {words[2]}", out var meter, out _) ? meter : null;
    }

    private IEnumerable<Measure> Measures(List<MeasureMark>[] marks)
    {
        WrittenMeter? meter = null;
        for (var i = 0; i < _bars.Count; i++)
        {
            meter = _bars[i].Change ?? meter;
            var number = i + (_isPickup ? 0 : 1);
            yield return new Measure(number.ToString(CultureInfo.InvariantCulture))
            {
                IsUncounted = _isPickup && i == 0,
                ActualLength = (_isPickup && i == 0) || _bars[i].Length != meter!.Length ? _bars[i].Length : null,
                Marks = [.. marks[i].OrderBy(mark => mark.At)],
                Origin = Here($"measure {number}"),
            };
        }
    }

    private void Marks(List<MeasureMark>[] marks)
    {
        for (var i = 0; i < _bars.Count; i++)
        {
            if (_bars[i].Change is { } meter)
            {
                marks[i].Add(new Music.Notation.MeterMark(Span.Zero, meter) { Origin = Here($"tick {_bars[i].Tick}") });
            }
        }

        var markers = _signs.Where(item => item.Data1 == MetaType.Marker).Select(item => (item.Tick, Text: item.Text.Trim())).Where(item => item.Text.Length > 0).ToList();
        var isSectioned = markers.Exists(item => item.Text.StartsWith('['));
        var areChords = isSectioned || (markers.TrueForAll(item => ChordSymbol.TryParse(item.Text, out _, out _)) && markers.Exists(item => item.Text.Length > 1));
        foreach (var (tick, text) in markers)
        {
            if (areChords && ChordSymbol.TryParse(text, out var chord, out _))
            {
                Add(marks, tick, at => new ChordMark(at, [new WrittenChord { Text = text, Symbol = chord }]) { Origin = Here($"tick {tick}") });
            }
            else
            {
                Add(marks, tick, at => new RehearsalMark(at, text.StartsWith('[') && text.EndsWith(']') ? text[1..^1] : text) { Origin = Here($"tick {tick}") });
            }
        }

        var tempo = 0;
        foreach (var item in _signs.Where(item => item.Data1 == MetaType.Tempo))
        {
            var content = item.Content.Span;
            var microseconds = (content[0] << 16) | (content[1] << 8) | content[2];
            if (microseconds != tempo)
            {
                tempo = microseconds;
                Add(marks, item.Tick, at => new TempoSign(at) { SoundQuarters = Quarters(microseconds), Origin = Here($"tick {item.Tick}") });
            }
        }

        if (tempo == 0)
        {
            Warn(null, "the file names no tempo; 120 quarters per minute are assumed, as the MIDI standard says", "change the tempo of the chart");
            marks[0].Add(new TempoSign(Span.Zero) { SoundQuarters = 120, Provenance = Provenance.Inferred });
        }
    }

    // The plainest number that a file would write as these microseconds per quarter, rounded or cut.
    private static Rational Quarters(int microseconds)
    {
        var exact = new Rational(60_000_000, microseconds);
        foreach (var parts in new[] { 1, 10, 100, 1000 })
        {
            var plain = new Rational((exact * parts).Round(), parts);
            if (plain.Sign > 0 && ((new Rational(60_000_000, 1) / plain) - microseconds).Abs() < 1)
            {
                return plain;
            }
        }

        return exact;
    }

    private void Add(List<MeasureMark>[] marks, long tick, Func<Span, MeasureMark> make)
    {
        var at = Exact(tick);
        var bar = MidiScoreVoices.BarAt(_bars.Count, i => _bars[i].Start, at);
        if (at - _bars[bar].Start < _bars[bar].Length)
        {
            marks[bar].Add(make(at - _bars[bar].Start));
        }
    }

    // The key in each bar; adds the marks.
    private Key[] Keys(List<MeasureMark>[] marks)
    {
        var texts = _signs.Where(item => item.Data1 == MetaType.Text && item.Text.StartsWith("key ", StringComparison.Ordinal))
            .GroupBy(item => item.Tick).ToDictionary(group => group.Key, group => group.Last().Text[4..]);
        var keys = new Key?[_bars.Count];
        Key? before = null;
        foreach (var item in _signs.Where(item => item.Data1 == MetaType.KeySignature))
        {
            var fifths = unchecked((sbyte)item.Content.Span[0]);
            if (fifths is < -7 or > 7)
            {
                Warn($"tick {item.Tick}", $"a key signature of {fifths} sharps", "it is not read; seven sharps or flats are the most");
                continue;
            }

            var key = texts.TryGetValue(item.Tick, out var text) && Key.TryParse(text, out var named, out _) && named.Fifths == fifths
                ? named
                : new WrittenKey(fifths, item.Content.Span[1] == 1 ? "minor" : "major").ToKey()!;
            if (!key.Equals(before))
            {
                before = key;
                Add(marks, item.Tick, at => new KeyMark(at, WrittenKey.Of(key)) { Origin = Here($"tick {item.Tick}") });
                keys[MidiScoreVoices.BarAt(_bars.Count, i => _bars[i].Start, Exact(item.Tick))] = key;
            }
        }

        if (keys[0] is null)
        {
            var isGiven = Key.TryParse(options.Key, out var given, out _);
            keys[0] = isGiven ? given : KeyOfNotes();
            if (before is null)
            {
                marks[0].Add(new KeyMark(Span.Zero, WrittenKey.Of(keys[0]!)) { Provenance = isGiven ? Provenance.Written : Provenance.Inferred });
                if (!isGiven)
                {
                    Warn(null, $"the file names no key; {keys[0]} is taken from the notes", "give --key");
                }
            }
        }

        for (var i = 1; i < keys.Length; i++)
        {
            keys[i] ??= keys[i - 1];
        }

        return keys!;
    }

    private Key KeyOfNotes()
    {
        var times = new double[12];
        foreach (var note in _found.Parts.Where(part => !part.IsPercussion).SelectMany(part => part.Notes))
        {
            times[note.Key % 12] += Math.Min(note.Off - note.On, 4L * TicksPerQuarter);
        }

        return Music.Analysis.KeySearch.ByTimes(times);
    }
}
