using GrooveLab.Audio.Playback;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Import;
using GrooveLab.Exchange.Midi;
using GrooveLab.Exchange.MusicXml;
using GrooveLab.Exchange.Scores;
using GrooveLab.Fuzz;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;
using SharpFuzz;

// Under AFL, one input on standard input; with files after the reader's name, each of them once, to examine findings.
var readers = new Dictionary<string, Action<byte[]>>(StringComparer.Ordinal)
{
    ["abc"] = bytes => Readers.Score(bytes, ScoreFormat.Abc),
    ["bank"] = Readers.Bank,
    ["chart"] = Readers.Chart,
    ["midi"] = Readers.Midi,
    ["midi-score"] = bytes => Readers.Score(bytes, ScoreFormat.Midi),
    ["musicxml"] = Readers.MusicXml,
    ["words"] = bytes => Readers.Score(bytes, ScoreFormat.Words),
};
if (args.Length == 0 || !readers.TryGetValue(args[0], out var reader))
{
    Console.Error.WriteLine($"usage: name a reader: {string.Join(", ", readers.Keys)}");
    return 2;
}

foreach (var path in args.Skip(1))
{
    reader(File.ReadAllBytes(path));
    Console.Out.WriteLine(path);
}

if (args.Length == 1)
{
    Fuzzer.OutOfProcess.Run(stream =>
    {
        using var copy = new MemoryStream();
        stream.CopyTo(copy);
        reader(copy.ToArray());
    });
}

return 0;

namespace GrooveLab.Fuzz
{
    /// <summary>
    /// The readers of files from others, and what is done with the result. Any exception that is not expected here is a finding.
    /// </summary>
    internal static class Readers
    {
        private const int Rate = 8_000;
        private const int Frames = 800;

        public static void Bank(byte[] bytes)
        {
            try
            {
                var bank = SoundFontBank.Load(bytes, "bank");
                foreach (var preset in bank.Presets.Take(16))
                {
                    var synth = new SoundFontSynth(bank, Rate, new SoundFontSynthOptions { MaxVoices = 32 });
                    synth.Control(0, 0, preset.Bank);
                    synth.Program(0, preset.Program);
                    foreach (var key in new[] { 0, 44, 60, 127 })
                    {
                        synth.NoteOn(0, key, 100);
                        synth.NoteOn(9, key, 1);
                    }

                    synth.Render(new float[Frames], new float[Frames]);
                }
            }
            catch (SoundFontException)
            {
                // Refused with a reason.
                return;
            }
        }

        public static void Chart(byte[] bytes)
        {
            var read = ChartReader.ReadBytes(bytes, "chart.toml");
            if (read.Chart is { } chart && !ChartReader.ReadText(ChartWriter.Write(chart), "again.toml").IsChart)
            {
                throw new InvalidOperationException("A file that was read and written could not be read again.");
            }
        }

        public static void Midi(byte[] bytes)
        {
            MidiFile file;
            try
            {
                file = MidiFileReader.Parse(bytes, "file.mid");
            }
            catch (MidiFileException)
            {
                // Refused with a reason.
                return;
            }

            _ = MidiFileReader.Parse(MidiFileWriter.ToBytes(file), "again.mid");
            _ = new ChannelEventPlayer(new Silence(), new MidiTimeline(file).ChannelEvents(Rate)).Read(new float[2 * Frames]);
        }

        // What import writes can be read again.
        public static void Score(byte[] bytes, ScoreFormat format)
        {
            var imported = ScoreImport.Make(bytes, format, new ScoreOptions { Name = "score" });
            if (imported.Text is { } text && !ChartReader.ReadText(text, "chart.toml").IsChart)
            {
                throw new InvalidOperationException("A chart that was made from a score cannot be read.");
            }
        }

        // Plain and compressed: the bytes say which.
        public static void MusicXml(byte[] bytes)
        {
            Score(bytes, ScoreFormat.MusicXml);
            var reading = MusicXmlScoreReader.Read(bytes, new ScoreOptions { Name = "score.musicxml" });
            if (reading.Music is not { } music)
            {
                return;
            }

            for (var part = 0; part < music.Parts.Count; part++)
            {
                _ = SoundingNotes.OfPart(music, part);
            }

            _ = VoiceCheck.Faults(music);
            try
            {
                _ = Unfolding.Order(music.Measures, Frames);
            }
            catch (UnfoldException)
            {
                // Signs that contradict each other, with a reason.
                return;
            }
        }

        /// <summary>Accepts everything and plays nothing; another reader covers banks.</summary>
        private sealed class Silence : ISoundFontSynth
        {
            public int SampleRate => Rate;

            public int ChannelCount => 64;

            public int ActiveVoices => 0;

            public void NoteOn(int channel, int key, int velocity) => Check(channel, key);

            public void NoteOff(int channel, int key) => Check(channel, key);

            public void Control(int channel, int controller, int value) => Check(channel, controller);

            public void Program(int channel, int program) => Check(channel, program);

            public void PitchWheel(int channel, int value) => Check(channel, value / 129);

            public void ChannelPressure(int channel, int value) => Check(channel, value);

            public void KeyPressure(int channel, int key, int value)
            {
                Check(channel, key);
                Check(channel, value);
            }

            public void Render(Span<float> left, Span<float> right)
            {
                left.Clear();
                right.Clear();
            }

            private static void Check(int channel, int value)
            {
                if (channel is < 0 or > 63 || value is < 0 or > 127)
                {
                    throw new InvalidOperationException("A message is out of range.");
                }
            }
        }
    }
}
