namespace GrooveLab.Inputs;

/// <summary>Standard input, which a command reads as a file when it is named <c>-</c>.</summary>
internal static class StandardInput
{
    /// <summary>The word for it on the command line.</summary>
    public const string Word = "-";

    /// <summary>Its name in messages.</summary>
    public const string Name = "standard input";

    // Far more than any chart or MIDI file.
    private const int MostBytes = 64 << 20;

    private static readonly Lazy<byte[]> Content = new(Read);

    /// <summary>Everything in it, read once.</summary>
    /// <exception cref="CommandFailure">It is too long.</exception>
    public static byte[] Bytes => Content.Value;

    /// <summary>A file's name for messages.</summary>
    public static string NameOf(string path) => path == Word ? Name : path;

    private static byte[] Read()
    {
        if (!Console.IsInputRedirected)
        {
            Console.Error.WriteLine($"groovelab: reading from the keyboard; {(OperatingSystem.IsWindows() ? "Ctrl+Z and Enter end" : "Ctrl+D ends")} the text");
        }

        using var input = Console.OpenStandardInput();
        var bytes = new MemoryStream();
        var piece = new byte[1 << 16];
        for (int read; (read = input.Read(piece)) > 0;)
        {
            bytes.Write(piece, 0, read);
            if (bytes.Length > MostBytes)
            {
                throw CommandFailure.BadInput($"{Name} is longer than {MostBytes >> 20} MB");
            }
        }

        return bytes.ToArray();
    }
}
