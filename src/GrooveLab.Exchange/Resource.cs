namespace GrooveLab.Exchange;

/// <summary>Texts that are built into the program.</summary>
internal static class Resource
{
    /// <summary>The text of a file that is embedded under its plain name.</summary>
    public static string Text(string name)
    {
        using var stream = typeof(Resource).Assembly.GetManifestResourceStream(name)
            ?? throw new InvalidOperationException($"{name} is not built in.");
        using var reader = new StreamReader(stream);
        return reader.ReadToEnd();
    }
}
