using System.Globalization;
using System.Text.RegularExpressions;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Abc;

/// <summary>Reads one tune: its fields, and its lines of music voice by voice.</summary>
/// <param name="tune">The tune.</param>
/// <param name="fileName">The file's name, for messages.</param>
internal sealed partial class AbcTuneReader(AbcTune tune, string fileName)
{
    /// <summary>Maximum number of measures of a voice.</summary>
    public const int MostMeasures = 20_000;

    /// <summary>Maximum number of measures of all voices together.</summary>
    public const int MostVoiceMeasures = 100_000;

    /// <summary>Maximum number of voices.</summary>
    public const int MostVoices = 64;

    /// <summary>Maximum number of verses below a line of music.</summary>
    public const int MostVerses = 100;

    /// <summary>Maximum number of notes and rests in a measure of a voice; finding a place in it takes as many steps.</summary>
    public const int MostInMeasure = 2000;

    /// <summary>Maximum number of marks in a measure of a voice.</summary>
    public const int MostMarks = 256;

    /// <summary>Maximum number of different remarks of one kind.</summary>
    public const int MostRemarks = 200;

    /// <summary>Maximum number of notes, rests, grace notes and signs: five thousand bars with forty of them, in less than 200 MB of memory.</summary>
    public const int MostNotes = 200_000;

    /// <summary>Maximum number of notes of a chord, of grace notes before a note, and of signs at a note.</summary>
    public const int MostAtNote = 64;

    private readonly Dictionary<string, AbcVoice> _voices = new(StringComparer.Ordinal);
    private readonly Dictionary<char, string> _userSigns = [];
    private readonly Dictionary<string, (int Line, int Count)> _notCarried = new(StringComparer.Ordinal);
    private readonly Dictionary<string, (int Line, int Count, string Remedy)> _warnings = new(StringComparer.Ordinal);
    private readonly List<ScoreRemark> _errors = [];
    private readonly List<Heading> _headings = [];
    private readonly Dictionary<AbcVoice, (int Number, int Measure)> _openEndings = [];
    private readonly Dictionary<AbcVoice, int> _firstEndingBars = [];
    private AbcVoice? _voice;
    private WrittenMeter? _meter;
    private Span? _unit;
    private AbcKey? _key;
    private (string Text, int Line)? _tempo;
    private string? _order;
    private bool _inBody;
    private bool _coda;
    private int _tuplets;
    private int _notes;
    private int _measures;

    /// <summary>The file's name.</summary>
    public string FileName => fileName;

    /// <summary>The voice to which lines of music belong.</summary>
    public AbcVoice Voice
    {
        get => _voice ??= VoiceOf("1");
        set => _voice = value;
    }

    /// <summary>Reads the tune.</summary>
    public ScoreReading Read()
    {
        foreach (var line in tune.Lines)
        {
            if (_errors.Count > 0)
            {
                break;
            }

            if (line.Text.StartsWith("%%", StringComparison.Ordinal))
            {
                continue;
            }

            if (line.Field is not null)
            {
                Field(line, inline: false);
            }
            else if (_inBody)
            {
                new AbcMusicLine(this, line).Read();
            }
            else
            {
                Warn(line.Number, "music before the K: field", "write K: at the end of the tune's head; the line is left out");
            }
        }

        if (_errors.Count == 0 && !_voices.Values.Any(voice => voice.Measures.Exists(measure => measure.Layers.Exists(layer => layer.Count > 0))))
        {
            Error(tune.Lines[0].Number, _inBody ? "the tune has no notes" : "the tune has no key", _inBody ? "write the music after the K: field" : "write K: at the end of its head, and the music after it");
        }

        if (_errors.Count > 0)
        {
            return new ScoreReading(_errors, Warnings());
        }

        var music = new AbcScore(fileName, [.. _voices.Values.OrderBy(voice => voice.Order)], _headings, _order, this).Made();
        return _errors.Count > 0 ? new ScoreReading(_errors, Warnings()) : new ScoreReading(music, Warnings(), NotCarriedRemarks());
    }

    /// <summary>An odd thing that was read all the same; equal ones are counted, and at most <see cref="MostRemarks"/> different ones listed.</summary>
    public void Warn(int line, string what, string remedy)
    {
        if (_warnings.TryGetValue(what, out var known))
        {
            _warnings[what] = (known.Line, known.Count + 1, remedy);
        }
        else if (_warnings.Count < MostRemarks)
        {
            _warnings.Add(what, (line, 1, remedy));
        }
    }

    /// <summary>A thing that is not carried over; equal ones are counted.</summary>
    public void NotCarried(int line, string what)
    {
        if (_notCarried.TryGetValue(what, out var known))
        {
            _notCarried[what] = (known.Line, known.Count + 1);
        }
        else if (_notCarried.Count < MostRemarks)
        {
            _notCarried.Add(what, (line, 1));
        }
    }

    /// <summary>True when an error has ended the reading.</summary>
    public bool IsRefused => _errors.Count > 0;

    /// <summary>An error that ends the reading.</summary>
    public void Error(int line, string what, string remedy)
    {
        if (_errors.Count == 0)
        {
            _errors.Add(new ScoreRemark(new Origin(fileName, line, null), what, remedy));
        }
    }

    /// <summary>A text from the file for a message, cut where it is long.</summary>
    public static string Short(string text) => text.Length <= 40 ? text : text[..40] + "...";

    /// <summary>A new identity for a tuplet.</summary>
    public int NextTuplet() => ++_tuplets;

    /// <summary>Counts a note against the limits.</summary>
    public void Count(AbcVoice voice, int line)
    {
        if (voice.Current.Layers[voice.Layer].Count == MostInMeasure)
        {
            Error(line, $"a bar has more than {MostInMeasure} notes", "write bar lines");
        }

        Count(line);
    }

    /// <summary>Counts a note of a chord, a grace note or a sign against the limits.</summary>
    public void Count(int line)
    {
        if (++_notes == MostNotes)
        {
            Error(line, $"the tune has more than {MostNotes} notes and signs", "divide it");
        }
    }

    /// <summary>The decoration that a U: field gives a letter; null for none.</summary>
    public string? UserSign(char letter) => _userSigns.GetValueOrDefault(letter);

    /// <summary>False for the first coda sign, from which one jumps; true for the second, its target.</summary>
    public bool TakeCoda()
    {
        var target = _coda;
        _coda = true;
        return target;
    }

    /// <summary>Adds a mark for all parts to the measure that is being read.</summary>
    public void Mark(AbcVoice voice, MeasureMark mark) => AddTo(voice.Current, mark);

    private void AddTo(AbcMeasure measure, MeasureMark mark)
    {
        if (measure.Marks.Count < MostMarks)
        {
            Count(mark.Origin?.Line ?? measure.Line);
            measure.Marks.Add(mark);
        }
        else
        {
            NotCarried(mark.Origin?.Line ?? measure.Line, $"marks beyond {MostMarks} in a bar");
        }
    }

    /// <summary>Takes a field in the head, in the body, or in brackets in a line of music.</summary>
    public void Field(AbcLine line, bool inline)
    {
        var value = line.Value;
        switch (line.Field)
        {
            case 'T' when !_inBody:
                _headings.Add(new Heading(_headings.Exists(heading => heading.Kind == "work-title") ? "movement-title" : "work-title", null, value));
                break;
            case 'C' when !_inBody:
                _headings.Add(new Heading("creator", "composer", value));
                break;
            case 'A' when !_inBody:
                _headings.Add(new Heading("creator", "lyricist", value));
                break;
            case 'M':
                Meter(line, value);
                break;
            case 'L':
                if (AbcFields.Length(value) is { } unit)
                {
                    _unit = _inBody ? _unit : unit;
                    foreach (var voice in _inBody ? [Voice] : _voices.Values.ToList())
                    {
                        voice.Unit = unit;
                    }
                }
                else
                {
                    Warn(line.Number, $"'{Short(value)}' is not a note length", "write L:1/8");
                }

                break;
            case 'Q':
                Tempo(line, value);
                break;
            case 'K':
                Key(line, value);
                break;
            case 'V':
                NamedVoice(value);
                break;
            case 'P':
                if (!_inBody)
                {
                    _order = value;
                }
                else if (value.Length > 0)
                {
                    Open(Voice, line.Number);
                    Mark(Voice, new RehearsalMark(Voice.At, value) { Origin = new Origin(fileName, line.Number, null) });
                }

                break;
            case 'w':
                Words(line, value);
                break;
            case 'W':
                NotCarried(line.Number, "words below the tune (W:), which belong to no notes");
                break;
            case 's':
                NotCarried(line.Number, "a line of symbols (s:)");
                break;
            case 'm':
                NotCarried(line.Number, "a macro (m:)");
                break;
            case 'U':
                var sides = value.Split('=', 2);
                if (sides.Length == 2 && sides[0].Trim().Length == 1)
                {
                    _userSigns[sides[0].Trim()[0]] = sides[1].Trim().Trim('!', '+');
                }

                break;
            case 'I':
                if (value.StartsWith("propagate-accidentals", StringComparison.Ordinal) && !value.EndsWith("pitch", StringComparison.Ordinal))
                {
                    NotCarried(line.Number, "another rule for accidentals (I:propagate-accidentals)");
                }

                break;
        }
    }

    /// <summary>Ends the current measure, if anything is in it, and begins another.</summary>
    public void BarLine(AbcVoice voice, int line, AbcBar bar)
    {
        Open(voice, line);
        var isEmpty = voice.Current.Layers.TrueForAll(layer => layer.Count == 0);
        var before = isEmpty ? voice.Measures.Count > 1 ? voice.Measures[^2] : null : voice.Current;
        if (bar.Closes && before is not null)
        {
            AddTo(before, new RepeatMark(before.Length, BarlineSide.Right, false) { Times = bar.Times > 2 ? bar.Times : null });
        }

        var ends = bar.EndsEnding || bar.Doubled || bar.Closes || bar.Opens || bar.Numbers.Count > 0;
        if (ends && before is not null)
        {
            CloseEnding(voice, before, bar.Closes, line);
        }

        if (bar.Doubled && before is not null)
        {
            AddTo(before, new BarlineMark(before.Length, BarlineSide.Right, bar.EndsEnding ? "light-heavy" : "light-light"));
        }

        if (!isEmpty)
        {
            if (!BeginMeasure(voice, line))
            {
                return;
            }
        }

        if (bar.Opens)
        {
            Mark(voice, new RepeatMark(Span.Zero, BarlineSide.Left, true));
        }

        if (bar.Numbers.Count > 0)
        {
            Mark(voice, new EndingMark(Span.Zero, BarlineSide.Left, EndingEdge.Start, bar.Numbers));
            _openEndings[voice] = (bar.Numbers[0], voice.Measures.Count - 1);
        }
    }

    // False, with an error, if there are too many.
    private bool BeginMeasure(AbcVoice voice, int line)
    {
        if (voice.Measures.Count >= MostMeasures)
        {
            Error(line, $"a voice has more than {MostMeasures} bars", "divide the tune");
            return false;
        }

        if (++_measures > MostVoiceMeasures)
        {
            Error(line, $"the voices have more than {MostVoiceMeasures} bars together", "divide the tune");
            return false;
        }

        voice.NewMeasure(line);
        return true;
    }

    /// <summary>Whole measures of rest.</summary>
    public void RestBars(AbcVoice voice, int line, int bars, bool hidden, Origin origin)
    {
        Open(voice, line);
        var length = voice.Meter?.Length ?? Span.Of(1, 1);
        for (var bar = 0; bar < bars; bar++)
        {
            if (bar > 0)
            {
                if (!BeginMeasure(voice, line))
                {
                    return;
                }
            }

            voice.Current.Layers[voice.Layer].Add(new AbcEvent(origin, length) { IsHidden = hidden, IsWholeMeasure = true });
        }
    }

    /// <summary>Ends the bracket of an ending that is still open at the end of a voice.</summary>
    public void CloseEnding(AbcVoice voice, AbcMeasure measure) => CloseEnding(voice, measure, repeats: false, measure.Line);

    // A later ending whose end nothing marks reaches to the end of what is repeated next: then it is as long as the first ending, and what follows it is repeated.
    private void CloseEnding(AbcVoice voice, AbcMeasure measure, bool repeats, int line)
    {
        if (!_openEndings.Remove(voice, out var ending))
        {
            return;
        }

        var bars = voice.Measures.IndexOf(measure) - ending.Measure + 1;
        if (repeats && ending.Number == 1)
        {
            _firstEndingBars[voice] = bars;
        }
        else if (repeats && _firstEndingBars.TryGetValue(voice, out var usual) && bars > usual)
        {
            Warn(line, $"no double bar ends ending {ending.Number}", "it is as long as the first ending, and what follows it is repeated");
            measure = voice.Measures[ending.Measure + usual - 1];
            AddTo(voice.Measures[ending.Measure + usual], new RepeatMark(Span.Zero, BarlineSide.Left, true));
        }

        measure.Marks.Add(new EndingMark(measure.Length, BarlineSide.Right, EndingEdge.Stop, [ending.Number]));
    }

    /// <summary>A line of music begins without a bar line: if the line before ended with a full bar, a bar line is added.</summary>
    public void LineBreak(AbcVoice voice, int line)
    {
        if (voice.Measures.Count > 0 && voice.Layer == 0 && voice.Meter?.Length is { } full && voice.Current.Layers[0].Count > 0 && voice.Current.Length == full)
        {
            Warn(line, "the line of music before ends with a full bar and no bar line", "one is added");
            BarLine(voice, line, new AbcBar(Closes: false, Times: 0, Opens: false, Doubled: false, EndsEnding: false, []));
        }
    }

    private static void Open(AbcVoice voice, int line)
    {
        if (voice.Measures.Count == 0)
        {
            voice.NewMeasure(line);
        }
    }

    private void Meter(AbcLine line, string value)
    {
        if (AbcFields.Meter(value) is not { } meter)
        {
            Warn(line.Number, $"'{Short(value)}' is not a meter", "write M:6/8 or M:2+3/8; the meter before is kept");
            return;
        }

        if (!_inBody)
        {
            _meter = meter;
            return;
        }

        Open(Voice, line.Number);
        Voice.Meter = meter;
        Mark(Voice, new MeterMark(Voice.At, meter) { Origin = new Origin(fileName, line.Number, null) });
    }

    private void Tempo(AbcLine line, string value)
    {
        if (!_inBody)
        {
            _tempo = (value, line.Number);
            return;
        }

        Open(Voice, line.Number);
        if (AbcFields.Tempo(value, Voice.Unit) is { } sign)
        {
            Mark(Voice, sign with { At = Voice.At, Origin = new Origin(fileName, line.Number, null) });
        }
        else
        {
            Warn(line.Number, $"'{Short(value)}' is not a tempo", "write Q:1/4=120");
        }
    }

    private void Key(AbcLine line, string value)
    {
        if (AbcFields.Key(value, out var problem) is not { } key)
        {
            if (_inBody)
            {
                Warn(line.Number, problem!, "the key before is kept");
                return;
            }

            Warn(line.Number, problem!, "it is read without sharps and flats");
            key = new AbcKey(new WrittenKey(0, null), new int[7]);
        }

        if (_inBody)
        {
            Open(Voice, line.Number);
            Voice.Key = key with { Transpose = key.Transpose ?? Voice.Key.Transpose };
            Voice.Octave = key.Octave ?? Voice.Octave;

            // A field that only changes the clef changes no key.
            if (value.Length > 0 && char.IsAsciiLetterUpper(value[0]))
            {
                Mark(Voice, new KeyMark(Voice.At, key.Written) { Origin = new Origin(fileName, line.Number, null) });
            }

            return;
        }

        _key = key;
        _inBody = true;
        foreach (var voice in _voices.Values)
        {
            Begin(voice);
        }
    }

    private void NamedVoice(string value)
    {
        var id = value.Split(' ', 2)[0];
        if (id.Length == 0)
        {
            Warn(tune.Lines[0].Number, "a V: field without a voice", "write V:1; it is left out");
            return;
        }

        var voice = VoiceOf(id);
        foreach (Match match in Property().Matches(value))
        {
            var text = match.Groups["value"].Value.Trim('"');
            switch (match.Groups["name"].Value)
            {
                case "name" or "nm":
                    voice.Name = text.Replace("\\n", " ", StringComparison.Ordinal);
                    break;
                case "subname" or "snm" or "sname":
                    voice.Abbreviation = text;
                    break;
                case "transpose" or "octave" or "clef":
                    if (AbcFields.Key(match.Groups["name"].Value == "clef" ? text : match.Value, out _) is { } shifts)
                    {
                        voice.Key = voice.Key with { Transpose = shifts.Transpose ?? voice.Key.Transpose };
                        voice.Octave = shifts.Octave ?? voice.Octave;
                    }

                    break;
            }
        }

        // "V:2 bass-8": a clef without its name.
        foreach (var word in value.Split(' ', StringSplitOptions.RemoveEmptyEntries).Skip(1).Where(word => !word.Contains('=') && (word.EndsWith("-8", StringComparison.Ordinal) || word.EndsWith("+8", StringComparison.Ordinal))))
        {
            voice.Key = voice.Key with { Transpose = AbcFields.Key(word, out _)?.Transpose ?? voice.Key.Transpose };
        }

        if (_inBody)
        {
            Voice = voice;
        }
    }

    private AbcVoice VoiceOf(string id)
    {
        if (_voices.TryGetValue(id, out var voice))
        {
            return voice;
        }

        if (_voices.Count == MostVoices)
        {
            Error(tune.Lines[0].Number, $"the tune has more than {MostVoices} voices", "remove some");
            return _voices.Values.First();
        }

        voice = new AbcVoice(id, _voices.Count);
        _voices.Add(id, voice);
        if (_inBody)
        {
            Begin(voice);
        }

        return voice;
    }

    // What the tune's head says applies to every voice.
    private void Begin(AbcVoice voice)
    {
        voice.Meter = _meter;
        voice.Unit = _unit ?? (_meter?.Length is { } length && length < Span.Of(3, 4) ? Span.Of(1, 16) : Span.Of(1, 8));
        voice.Key = _key! with { Transpose = voice.Key.Transpose ?? _key!.Transpose };
        voice.Octave = voice.Octave != 0 ? voice.Octave : _key!.Octave ?? 0;
        Open(voice, tune.Lines[0].Number);
        if (voice.Order > 0)
        {
            return;
        }

        var origin = new Origin(fileName, tune.Lines[0].Number, null);
        if (_meter is not null)
        {
            voice.Current.Marks.Add(new MeterMark(Span.Zero, _meter) { Origin = origin });
        }

        voice.Current.Marks.Add(new KeyMark(Span.Zero, _key!.Written) { Origin = origin });
        if (_tempo is { } tempo)
        {
            if (AbcFields.Tempo(tempo.Text, voice.Unit) is { } sign)
            {
                voice.Current.Marks.Add(sign with { Origin = new Origin(fileName, tempo.Line, null) });
            }
            else
            {
                Warn(tempo.Line, $"'{Short(tempo.Text)}' is not a tempo", "write Q:1/4=120");
            }
        }
    }

    private void Words(AbcLine line, string value)
    {
        if (!_inBody || Voice.LineNotes.Count == 0)
        {
            Warn(line.Number, "words without a line of music before them", "write w: directly after its music");
            return;
        }

        if (Voice.LineVerses == MostVerses)
        {
            NotCarried(line.Number, $"verses beyond {MostVerses} below a line of music");
            return;
        }

        Voice.LineVerses++;
        var left = AbcLyrics.Align(VerseNumber().Replace(value, ""), Voice.LineNotes, Voice.LineVerses);
        if (left > 0)
        {
            Warn(line.Number, string.Create(CultureInfo.InvariantCulture, $"{left} syllables more than notes"), "write * for a note without a syllable and ~ between words on one note; they are left out");
        }
    }

    private List<ScoreRemark> Warnings() =>
        [.. _warnings.OrderBy(warning => warning.Value.Line).Select(warning => new ScoreRemark(new Origin(fileName, warning.Value.Line, null), warning.Key + Times(warning.Value.Count), warning.Value.Remedy))];

    private List<ScoreRemark> NotCarriedRemarks() =>
        [.. _notCarried.OrderBy(one => one.Value.Line).Select(one => new ScoreRemark(new Origin(fileName, one.Value.Line, null), one.Key + Times(one.Value.Count), ""))];

    private static string Times(int count) => count == 1 ? "" : string.Create(CultureInfo.InvariantCulture, $" ({count} times)");

    [GeneratedRegex("(?<name>[a-z]+)=(?<value>\"[^\"]*\"|\\S+)", RegexOptions.NonBacktracking)]
    private static partial Regex Property();

    // The number of a verse before its first syllable: "1.~A-".
    [GeneratedRegex(@"^[0-9]{1,2}\.[~\s]\s*", RegexOptions.NonBacktracking)]
    private static partial Regex VerseNumber();
}
